import json
from datetime import UTC, datetime

import pytest
from typer.testing import CliRunner

from norms.cohort.annex_contents import club_centiles
from norms.cohort.centiles import centile_chart
from norms.errors import CohortRefused
from pipelines.cli import app
from pipelines.store import open_store

NOW = datetime(2026, 6, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def path(tmp_path_factory, small_academy):
    path = tmp_path_factory.mktemp("store") / "academy.duckdb"
    with open_store(path, create=True) as store:
        store.add_golfers(list(small_academy.golfers.values()))
        store.save_edition(small_academy.edition, NOW)
    return path


def ask(path, *words):
    command = ["centile", *words, "--store", str(path), "--edition", "autumn"]
    return CliRunner().invoke(app, command, catch_exceptions=False)


def test_inches_on_the_command_line_are_the_medians_centimetres(path, small_academy, tmp_path):
    centiles = club_centiles(small_academy.edition)["driver"].features["sway_travel"]
    assert not centiles.covariate_names
    median_cm = float(centile_chart(centiles, [14.0], percents=[50.0]).value[0, 0, 0])
    out = tmp_path / "reading.json"
    result = ask(
        path, "sway_travel", "--value", f"{median_cm / 2.54}", "--unit", "in",
        "--handicap", "14", "--json", str(out),
    )  # fmt: skip
    assert result.exit_code == 0
    assert "at handicap 14.0 (90 % interval" in result.stdout
    assert "more than 50 of 100 golfers" in result.stdout
    assert json.loads(out.read_text(encoding="utf-8"))["value"] == pytest.approx(median_cm)


def test_a_negative_value_and_a_plus_handicap_are_understood(path):
    result = ask(path, "sway_travel", "--value", "-50", "--unit", "cm", "--handicap", "+9")
    assert result.exit_code == 0
    assert "median of no handicap" in result.stdout
    assert "no centile at handicap +9.0" in result.stdout


@pytest.mark.parametrize("words", [("--sex", "male"), ("--age", "30")])
def test_what_the_centiles_do_not_depend_on_is_not_dropped_in_silence(path, words):
    result = ask(path, "sway_travel", "--value", "1", "--unit", "cm", *words)
    assert result.exit_code == 2
    assert f"{words[0]} does not apply" in " ".join(result.stderr.replace("│", " ").split())


def test_an_unknown_feature_is_refused_naming_those_there_are(path):
    with pytest.raises(CohortRefused, match="there are those of sway_travel"):
        ask(path, "hope", "--value", "1")
