"""Collecting a folder tells of every file in it, also of those it leaves alone."""

import json
import shutil
from pathlib import Path

from demo_data import academy as academy_module
from pipelines.collect_captures import expand_paths, not_looked_at
from reports.collect_page import collect_page, others_words
from reports.tables import OTHERS_SHOWN, others_table

SAMPLES = Path(academy_module.__file__).with_name("samples")


def folder_of(tmp_path: Path) -> Path:
    folder = tmp_path / "captures"
    (folder / "inner").mkdir(parents=True)
    for name in ("session.xlsx", "notes", "inner/swing.TRC", ".hidden"):
        (folder / name).write_text("x")
    (folder / "gone.c3d").symlink_to(folder / "nowhere.c3d")
    shutil.copy(SAMPLES / "Q0001_2025-03-25_driver_01.c3d", folder)
    return folder


def test_every_entry_of_a_folder_is_either_read_or_told(tmp_path: Path) -> None:
    folder = folder_of(tmp_path)
    others, read = not_looked_at([folder]), expand_paths([folder])
    assert [one.relative_to(folder).as_posix() for one in others] == [
        ".hidden", "gone.c3d", "inner/swing.TRC", "notes", "session.xlsx",
    ]  # fmt: skip
    assert {*others, *read} == {
        one for one in folder.rglob("*") if one.is_symlink() or not one.is_dir()
    }
    assert not {*others} & {*read}


def test_page_terminal_and_json_name_them(tmp_path: Path, run) -> None:
    folder, store = folder_of(tmp_path), tmp_path / "s.duckdb"
    page, report = tmp_path / "c.html", tmp_path / "c.json"
    assert run("roster", SAMPLES / "roster.csv", "--store", store)[0] == 0
    code, out, _ = run(
        "collect", folder, "--store", store, "--profile", SAMPLES / "north_bay.toml",
        "--html", page, "--json", report,
    )  # fmt: skip
    assert code in (0, 1)
    told = "5 files not looked at, being no capture files: 2 without ending, 1 .c3d"
    assert told in " ".join(out.split())
    for name in ("session.xlsx", "inner/swing.TRC", "gone.c3d"):
        assert name in out
        assert name in page.read_text()
    assert len(json.loads(report.read_text())["not_looked_at"]) == 5


def test_a_folder_without_captures_says_what_it_holds(tmp_path: Path, run) -> None:
    folder, store = tmp_path / "wrong", tmp_path / "s.duckdb"
    folder.mkdir()
    (folder / "a.xlsx").write_text("x")
    code, _, err = run("collect", folder, "--store", store, "--profile", SAMPLES / "north_bay.toml")
    assert code == 1
    assert "1 file not looked at, being no capture files: 1 .xlsx" in err


def test_where_nothing_was_left_alone_the_page_says_so() -> None:
    assert others_words([]) == "Every file was looked at."
    assert "Every file was looked at." in collect_page([])


def test_of_very_many_the_terminal_names_the_first_and_counts_the_rest() -> None:
    rows = others_table([f"folder/{n}.txt" for n in range(OTHERS_SHOWN + 1234)])
    assert len(rows) == OTHERS_SHOWN + 2
    assert rows[-1] == ["and 1,234 more"]
