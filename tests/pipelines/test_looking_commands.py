"""Commands that only look open the store for reading, so that they never shut each other out."""

import pytest
from typer.testing import CliRunner

import pipelines.store
from norms.records import Golfer
from pipelines.cli import app
from pipelines.store import open_store

LOOKING = [
    "check",
    "exclusions",
    "plan --edition e",
    "compare e f",
    "centile lift_low --value 1 --edition e",
    "placements Q0001",
    "progress Q0001 --edition e --club driver",
    "patterns --edition e --html {folder}/page.html",
    "peers S1",
    "ask cohort",
    "doubtful-speeds",
    "standard list",
    "standard check s",
    "standard compare s t",
    "standard sheet s",
    "consents",
    "receipts",
    "log",
]


@pytest.mark.parametrize("words", LOOKING)
def test_a_command_that_looks_opens_the_store_for_reading_only(tmp_path, monkeypatch, words):
    store = tmp_path / "academy.duckdb"
    with open_store(store, create=True) as opened:
        opened.add_golfers([Golfer(code="Q0001", hand="right")])
    ways = []

    def recording(path, **how):
        ways.append(how)
        return open_store(path, **how)

    monkeypatch.setattr(pipelines.store, "open_store", recording)
    given = words.format(folder=tmp_path).split()
    result = CliRunner().invoke(app, [*given, "--store", str(store)])
    assert result.exit_code in (0, 1), result.output  # understood, though there is little to see
    assert ways
    assert all(how == {"read_only": True} for how in ways)
