"""Files are written in full or not at all, and known again as what they are."""

import errno
import os
import subprocess
from pathlib import Path

import pandas as pd
import pytest

from norms.errors import NormsError
from pipelines.csv_cells import frame_csv
from pipelines.files import json_text, parquet_bytes, write_bytes_whole, write_whole
from pipelines.output_kinds import (
    DOCUMENT,
    DRAFT,
    PAGE,
    PARQUET,
    PDF,
    TABLE,
    kind_of,
    sealed,
    source_words,
)
from reports.collect_page import collect_page

FULL = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
OLD = collect_page([])


def contents() -> dict[str, tuple[bytes, object]]:
    from matplotlib.backends.backend_pdf import PdfPages  # noqa: F401

    words = pd.DataFrame([("sway", "cm", "=x")], columns=["column", "unit", "meaning"])
    return {
        "page.html": (OLD.encode(), PAGE),
        "log.json": (json_text({"entries": []}).encode(), DOCUMENT),
        "words.csv": (frame_csv(words).encode(), TABLE),
        "words.parquet": (parquet_bytes(words), PARQUET),
        "draft.toml": (sealed('[lab]\nname = "North bay"\n').encode(), DRAFT),
        "sheet.pdf": (b"%PDF-1.4\n<< /Creator (norms) >>", PDF),
    }


@pytest.mark.parametrize("name", contents())
def test_an_output_is_known_as_its_kind_whatever_it_is_called(name: str, tmp_path: Path) -> None:
    content, kind = contents()[name]
    file = tmp_path / "any name"
    for _ in range(2):
        write_bytes_whole(file, content, kind)
    assert kind_of(file) is kind
    assert file.read_bytes() == content


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a", b"golfer,hand\nQ0001,right\n", "table"),
        ("a", b"\xef\xbb\xbfgolfer;date;handicap_index\n", "table"),
        ("a.csv", b"anything", "table"),
        ("a", b"\x02\x50 and so on", "capture"),
        ("a.trc", b"PathFileType 4", "capture"),
        ("a", b'[lab]\nname = "x"\n', "TOML"),
        ("a.toml", b"not even TOML", "TOML"),
        ("a", b'{\n "schema": {\n  "name": "edition"', "edition"),
    ],
)
def test_what_people_and_labs_made_is_recognised(
    name: str, content: bytes, words: str, tmp_path: Path
) -> None:
    (tmp_path / name).write_bytes(content)
    assert words in source_words(tmp_path / name)
    assert kind_of(tmp_path / name) is None


@pytest.mark.parametrize("text", ["", "to do", "<html></html>", '{"a": 1}', "%PDF-1.4", "UP and"])
def test_other_files_are_nobodys_source(text: str, tmp_path: Path) -> None:
    (tmp_path / "a").write_text(text)
    assert source_words(tmp_path / "a") is None
    assert kind_of(tmp_path / "a") is None


@pytest.mark.parametrize("call", ["mkstemp", "fsync", "fdopen", "replace"])
def test_a_full_disk_is_one_line_and_the_old_file_stays(
    call: str, tmp_path: Path, monkeypatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise FULL

    file = tmp_path / "page.html"
    write_whole(file, OLD, PAGE)
    place = {
        "mkstemp": "pipelines.files.tempfile.mkstemp",
        "fsync": "pipelines.files.os.fsync",
        "fdopen": "pipelines.files.os.fdopen",
        "replace": "pathlib.Path.replace",
    }
    with monkeypatch.context() as patched:
        patched.setattr(place[call], full)
        with pytest.raises(NormsError, match="No space left") as told:
            write_whole(file, OLD + " ", PAGE)
    assert told.value.code == "not_written"
    assert told.value.message.startswith(f"{file}: cannot be written")
    assert "\n" not in told.value.message
    assert {one.name: one.read_text() for one in tmp_path.iterdir()} == {"page.html": OLD}


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can mount a tiny disk")
def test_on_a_disk_that_is_really_full_the_old_file_stays(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=128k", "tmpfs", str(disk)]
    if subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("no disk can be mounted here")
    try:
        file = disk / "page.html"
        write_whole(file, OLD, PAGE)
        with pytest.raises(NormsError, match="No space left"):
            write_whole(file, OLD + " " * 200_000, PAGE)
        assert {one.name: one.read_text() for one in disk.iterdir()} == {"page.html": OLD}
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_link_inside_a_folder_never_leads_an_output_out_of_it(tmp_path: Path) -> None:
    folder, outside = tmp_path / "sheets", tmp_path / "outside.html"
    folder.mkdir()
    write_whole(outside, OLD, PAGE)
    (folder / "Q0001_driver.html").symlink_to(outside)
    for name in ("Q0001_driver.html", "../outside.html"):
        with pytest.raises(NormsError, match="lies outside"):
            write_whole(folder / name, OLD + " ", PAGE, inside=folder)
    assert outside.read_text() == OLD


def test_what_a_kill_left_half_written_is_taken_away_later(tmp_path: Path) -> None:
    left, at_work, mine = (tmp_path / name for name in (".norms-a.part", ".norms-b.part", "c.part"))
    for draft in (left, at_work, mine):
        draft.write_text("half")
    for draft in (left, mine):
        os.utime(draft, (0, 0))
    write_whole(tmp_path / "page.html", OLD, PAGE)
    assert sorted(one.name for one in tmp_path.iterdir()) == [
        ".norms-b.part", "c.part", "page.html",
    ]  # fmt: skip


def test_what_was_shut_to_others_stays_shut(tmp_path: Path) -> None:
    file = tmp_path / "page.html"
    write_whole(file, OLD, PAGE)
    file.chmod(0o600)
    write_whole(file, OLD + " ", PAGE)
    assert file.stat().st_mode & 0o777 == 0o600
