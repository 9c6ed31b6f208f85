"""A demo is written anew over what a demo wrote, and over nothing that anybody touched."""

import errno
from pathlib import Path

import pytest

from norms.errors import NormsError
from pipelines.demo_folder import MARK, clear_demo, seal_demo


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    folder = clear_demo(tmp_path / "demo")
    (folder / "academy" / "captures").mkdir(parents=True)
    (folder / "academy" / "captures" / "a.c3d").write_bytes(b"a")
    (folder / "academy.duckdb").write_bytes(b"a store")
    seal_demo(folder)
    return folder


def names(folder: Path) -> list[str]:
    return sorted(one.relative_to(folder).as_posix() for one in folder.rglob("*"))


def test_an_untouched_demo_is_taken_away_whole(demo: Path) -> None:
    assert clear_demo(demo) == demo.resolve()
    assert names(demo) == [MARK]


@pytest.mark.parametrize("touched", ["academy.duckdb", "academy/captures/a.c3d", "mine.txt", "l"])
def test_what_a_person_changed_added_or_linked_is_kept_and_named(demo: Path, touched: str) -> None:
    if touched == "l":
        (demo / "l").symlink_to(demo / "academy")
    else:
        (demo / touched).write_bytes(b"worked with")
    before = names(demo)
    with pytest.raises(NormsError, match=f"{touched} is not as a demo wrote it") as told:
        clear_demo(demo)
    assert told.value.code == "folder_in_use"
    assert names(demo) == before


def test_a_demo_cut_short_and_a_folder_of_other_files_are_kept(tmp_path: Path) -> None:
    short = clear_demo(tmp_path / "short")
    assert clear_demo(short) == short  # nothing was written yet
    (short / "academy.duckdb").write_bytes(b"half")
    with pytest.raises(NormsError, match="cut short"):
        clear_demo(short)
    other = tmp_path / "other"
    other.mkdir()
    (other / "thesis.txt").write_text("mine")
    with pytest.raises(NormsError, match="no demo wrote"):
        clear_demo(other)
    assert names(other) == ["thesis.txt"]


def test_a_folder_that_cannot_be_made_is_one_line(tmp_path: Path, monkeypatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "mkdir", full)
    with pytest.raises(NormsError, match="cannot be written: No space left"):
        clear_demo(tmp_path / "demo")
