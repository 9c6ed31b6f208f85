"""Sheets of a whole roster lie in their folder, whatever golfers are called in an old store."""

import pytest
from typer.testing import CliRunner

from pipelines.cli import app
from pipelines.store import open_store
from reports.collect_page import collect_page

ESCAPING = "../../escaped"


@pytest.fixture(scope="module")
def store(tmp_path_factory, make):
    path = tmp_path_factory.mktemp("academy") / "deep" / "academy.duckdb"
    path.parent.mkdir()
    with open_store(path, create=True) as store:
        make.fill(store)
        first = min(store.swing_pool().golfers)
        for table, column in (("golfer", "code"), ("swing", "golfer"), ("handicap", "golfer")):
            # as a store has it that took the code before codes had an alphabet
            text = f'UPDATE "{table}" SET "{column}" = ? WHERE "{column}" = ?'
            store._database.script(text, (ESCAPING, first))
    return path


def place_all(store, out):
    words = ["place", "--all", "--store", store, "--edition", "spring", "--out", out]
    result = CliRunner().invoke(app, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.exit_code, result.stdout


def test_a_code_leads_no_sheet_out_of_its_folder(store):
    folder = store.parent / "sheets"
    code, told = place_all(store, folder)
    assert code == 0, told
    sheets = sorted(one.name for one in folder.iterdir())
    assert any(name.endswith("escaped_driver.html") for name in sheets)
    assert len(sheets) > 20
    outside = [one for one in store.parent.parent.rglob("*.html") if one.parent != folder]
    assert outside == []


def test_somebody_elses_file_is_kept_and_the_other_sheets_are_written(store):
    folder = store.parent / "kept"
    folder.mkdir()
    assert place_all(store, folder)[0] == 0
    mine, ours, *_ = sorted(folder.iterdir())
    mine.write_text("<!DOCTYPE html><title>my own page</title>")
    ours.write_text(collect_page([]))
    code, told = place_all(store, folder)
    assert code == 1
    assert "no sheet for" in told
    assert "my own page" in mine.read_text()
    assert ours.read_text() != collect_page([])
