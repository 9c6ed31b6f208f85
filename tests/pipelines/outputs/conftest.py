"""Files that outputs must never harm, and the command line as a person meets it."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from demo_data import academy as academy_module
from norms.errors import NormsError
from norms.records import Golfer
from pipelines.cli import app
from pipelines.store import open_store

SAMPLES = Path(academy_module.__file__).with_name("samples")
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture(scope="session")
def run() -> Run:
    """Exit code, standard output, and standard error or the refusal as ``main`` prints it."""

    def call(*words: str | Path) -> tuple[int, str, str]:
        result = CliRunner().invoke(app, [str(word) for word in words])
        if isinstance(result.exception, NormsError):
            return 1, result.stdout, result.exception.message
        assert result.exception is None or isinstance(result.exception, SystemExit)
        return result.exit_code, result.stdout, " ".join(result.stderr.replace("│", " ").split())

    return call


@pytest.fixture(scope="session")
def kept_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("kept") / "academy.duckdb"
    with open_store(path, create=True) as store:
        person = {"hand": "right", "professional": False, "consents_norms": True}
        store.add_golfers([Golfer(code="Q0001", **person)])
    return path


@pytest.fixture
def slips(tmp_path: Path, kept_store: Path) -> dict[str, Path]:
    """Twenty values that a slip of the hand puts where an output belongs, by what they are."""
    folder = tmp_path / "house"
    folder.mkdir()
    store = folder / "academy.duckdb"
    shutil.copy(kept_store, store)
    shutil.copy(kept_store, folder / "page.html")
    (folder / "link.html").symlink_to(store)
    os.link(store, folder / "twin.html")
    (folder / "chain.html").symlink_to(folder / "link.html")
    (folder / "circle.html").symlink_to(folder / "circle.html")
    shutil.copy(kept_store, folder / "backup of May")
    capture = folder / "Q0001_2025-03-25_driver_01.c3d"
    shutil.copy(SAMPLES / capture.name, capture)
    shutil.copy(capture, folder / "capture.json")
    shutil.copy(SAMPLES / "north_bay.toml", folder / "north_bay.toml")
    shutil.copy(SAMPLES / "north_bay.toml", folder / "profile.json")
    shutil.copy(SAMPLES / "roster.csv", folder / "roster.csv")
    shutil.copy(SAMPLES / "roster.csv", folder / "roster.html")
    (folder / "table.parquet").write_bytes(b"PAR1 and so on PAR1")
    (folder / "lists.bvh").write_text("HIERARCHY\n")
    (folder / "inner").mkdir()
    os.mkfifo(folder / "pipe")
    names = [one.name for one in folder.iterdir()]
    beside = ["academy.duckdb.wal", "academy.duckdb.tmp", "academy.duckdb.manifest.json"]
    return {name: folder / name for name in (*sorted(names), *beside)}


@pytest.fixture
def bytes_of() -> Callable[[Path], dict[str, bytes]]:
    """Every regular file of a folder with its bytes, and every other entry by its name."""

    def read(folder: Path) -> dict[str, bytes]:
        found = {}
        for path in sorted(folder.rglob("*")):
            special = path.is_symlink() or not path.is_file()
            found[str(path)] = b"no file" if special else path.read_bytes()
        return found

    return read
