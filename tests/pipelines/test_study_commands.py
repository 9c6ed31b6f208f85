"""The analyst's commands, from the table of features to the page."""

import json
import re

import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from norms.errors import CohortRefused, StoreRefused
from norms.records import BallSpeed
from pipelines.commands import studies
from pipelines.store import open_store

MAPPING = """
name = "open"
club = "driver"
[columns]
golfer = "who"
[facts]
sex = { column = "sex", female = "f", male = "m" }
[speeds]
ball_speed = { column = "bs", unit = "mph" }
[[features]]
column = "fwd"
name = "sway_travel"
unit = "in"
[[features]]
column = "tempo"
name = "tempo"
unit = "ratio"
"""
STUDY = """
name = "open"
question = "Does forward travel go with ball speed?"
primary = ["sway_travel"]
[cohort]
feature_cohort = "open"
[model]
covariates = ["sex"]
folds = 5
"""


@pytest.fixture(scope="module")
def app():
    made = typer.Typer()
    for command in (
        studies.study,
        studies.declare,
        studies.looks,
        studies.frame,
        studies.features,
        studies.ask,
        studies.timed_speeds,
        studies.doubtful_speeds,
    ):
        made.command()(command)
    return made


@pytest.fixture
def run(app, tmp_path):
    rng = np.random.default_rng(6)
    lines = ["who,sex,bs,fwd,tempo"]
    for golfer in range(35):
        mean, own = rng.normal(4, 1), rng.normal(0, 4)
        for _ in range(4):
            sway = mean + rng.normal(0, 0.6)
            ball = 140 + own + sway - mean + rng.normal(0, 0.5)
            lines.append(f"g{golfer},{'fm'[golfer % 2]},{ball:.2f},{sway:.3f},{rng.normal(3):.3f}")
    (tmp_path / "open.csv").write_text("\n".join(lines) + "\n")
    (tmp_path / "open.toml").write_text(MAPPING)
    (tmp_path / "study.toml").write_text(STUDY)
    store = str(tmp_path / "academy.duckdb")

    def call(*words, exit_code=0):
        found = CliRunner().invoke(app, [*words, "--store", store])
        if exit_code == 0 and found.exception is not None:
            raise found.exception
        assert found.exit_code == exit_code
        return found.stdout

    call("features", str(tmp_path / "open.csv"), "--mapping", str(tmp_path / "open.toml"))
    return call


def test_from_a_table_of_features_to_a_page_with_everything_beside_it(run, tmp_path):
    file = str(tmp_path / "study.toml")
    assert "declared 20" in run("declare", file)
    page, document, out = (tmp_path / name for name in ("s.html", "s.json", "out"))
    said = run("study", file, "--html", str(page), "--json", str(document), "--out", str(out))
    assert "1 in more forward travel *" in said
    assert "This is look 1 of 1 at this cohort." in said
    assert "declared beforehand" in said
    assert "Associations are not causes." in said
    assert json.loads(document.read_text())["look"]["number"] == 1
    assert "<h1>Does forward travel go with ball speed?</h1>" in page.read_text()
    assert re.search(r"\(g\d+\)", page.read_text())  # the academy's own page, by its codes
    for hidden in (document, out / "models.csv"):
        assert not re.search(r"\bg\d+\b", hidden.read_text())
    run("study", file, "--html", str(page), "--research")
    assert not re.search(r"\bg\d+\b", page.read_text())
    assert {path.name for path in out.iterdir()} == {
        "effects.csv", "effects.parquet", "models.csv", "models.parquet"
    }  # fmt: skip
    assert "m/s" in run("study", file, "--unit", "cm", "--speed-unit", "mps")
    written = run("frame", file, "--out", str(tmp_path / "frame")).split()
    assert len(written) == 3
    looked = run("looks", file)
    assert "1 of 2" in looked
    assert "frame taken out" in looked
    tests = run("looks", file, "--look", "1")
    assert "does forward travel go with ball speed within a golfer?" in tests
    assert "adjusted p" in tests
    with pytest.raises(StoreRefused, match="look 3: the register has 2 looks"):
        run("looks", file, "--look", "3")


def test_a_cohort_of_features_is_asked(run):
    said = run("ask", "open", "--what", "bands", "--what", "partition")
    assert "forward travel" in said
    assert "sway_travel" not in said
    median = {unit: run("ask", "open", "--unit", unit) for unit in ("in", "cm")}
    assert run("ask", "open") == median["in"] != median["cm"]  # the academy's own setting
    assert "may be shared" in said or "undecided" in said
    assert "35 golfers. One cloud, no types" in run("ask", "open", "--what", "patterns")
    with pytest.raises(CohortRefused, match="needs curves"):
        run("ask", "open", "--what", "edition")


def test_speeds_by_time_and_speeds_not_believed(run, tmp_path):
    with open_store(tmp_path / "academy.duckdb") as store:
        speed = BallSpeed(swing="S1", ball_speed_mps=80.0, club_speed_mps=50.0)
        store.add_ball_speeds([speed])
    assert "impossible" in run("doubtful-speeds")
    table = tmp_path / "timed.csv"
    table.write_text("golfer,club,time,ball_speed_mph\nQ1,driver,2026-04-30 14:05:00,150\n")
    said = run("timed-speeds", str(table))
    assert "0 swings matched" in said
    assert "left alone: golfer Q1, driver, 2026-04-30: 1 speeds for 0 swings" in said
