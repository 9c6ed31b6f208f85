"""The commands of a standard, from draft to sheet, on a store in a file."""

import json
import re
import tomllib

import pytest
from typer.testing import CliRunner

from norms.errors import StandardRefused
from norms.placement.document import placement_document
from norms.placement.place import place_swing
from pipelines.cli import app as whole_app
from pipelines.commands.standards import app
from pipelines.judge_placement import judge_placement
from pipelines.store import open_store

SIGNED = ["--who", "director of coaching", "--why", "agreed with the coaches"]
AGREED = ["--who", "academy director", "--why", "agreed with the coaches"]


@pytest.fixture(scope="module")
def academy(tmp_path_factory, make):
    folder = tmp_path_factory.mktemp("academy")
    with open_store(folder / "academy.duckdb", create=True) as store:
        make.fill(store)
    return folder


@pytest.fixture(scope="module")
def run(academy):
    def call(*words):
        result = CliRunner().invoke(app, [*words, "--store", str(academy / "academy.duckdb")])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        assert result.exit_code == 0, result.output
        return result.output

    return call


@pytest.fixture(scope="module")
def approved(academy, run):
    file = academy / "driver.toml"
    told = run(
        "draft", str(file), "--edition", "spring", "--cohort", "driver/to_12", "--name", "driver",
        "--title", "Driver, 5 to 12", "--review", "2031-05-01", "--feature", "sway_travel",
        "--stretch", "lift:top:downswing 50", "--why", "what we teach",
    )  # fmt: skip
    assert "middle 90 % of 64 golfers" in re.sub(r"\s+", " ", told)
    assert "is in review" in run("review", str(file), *SIGNED)
    assert "is approved" in run("approve", "driver", *AGREED)
    return "driver"


def test_checking_everyone_writes_page_and_json(academy, run, approved):
    told = run(
        "check", approved, "--json", str(academy / "c.json"), "--html", str(academy / "c.html"),
        "--keep",
    )  # fmt: skip
    assert "Of 64 golfers" in told
    document = json.loads((academy / "c.json").read_text(encoding="utf-8"))
    assert len(document["verdicts"]) == 64
    assert sum(document["counts"].values()) == 64
    with open_store(academy / "academy.duckdb", read_only=True) as store:
        assert document["edition_hash"] == store.edition("spring").content_hash
    page = (academy / "c.html").read_text(encoding="utf-8")
    assert "who meets it" in page
    assert "Q0001" in page


def test_checking_one_golfer_says_every_part(run, approved):
    told = re.sub(r"\s+", " ", run("check", approved, "--golfer", "Q0030"))
    assert "Q0030" in told
    assert "standard error" in told


def test_the_sheet_is_written_as_page_and_pdf(academy, run, approved):
    html, pdf = academy / "s.html", academy / "s.pdf"
    told = run("sheet", approved, "--html", str(html), "--pdf", str(pdf), "--unit", "cm")
    assert "physician" in told
    assert pdf.read_bytes().startswith(b"%PDF-")
    first = pdf.read_bytes()
    run("sheet", approved, "--pdf", str(pdf), "--unit", "cm")
    assert pdf.read_bytes() == first
    assert "should be" in html.read_text(encoding="utf-8")


def test_comparing_names_changes_and_flips(academy, run, approved):
    other = academy / "harder.toml"
    text = (academy / "driver.toml").read_text(encoding="utf-8")
    text = text.replace('name = "driver"', 'name = "harder"', 1)
    other.write_text(
        re.sub(r"low_percentile = 10.0", "low_percentile = 40.0", text, count=1), encoding="utf-8"
    )
    told = run("compare", approved, str(other), "--json", str(academy / "d.json"))
    assert "Forward travel" in told
    flips = json.loads((academy / "d.json").read_text(encoding="utf-8"))["flips"]
    assert flips
    assert f"{len(flips)} of 64 golfers would be judged differently: " in told
    counts = re.findall(r"(\d+) from (?:not )?\w+", told[told.index("judged differently") :])
    assert sum(map(int, counts)) == len(flips)


def test_the_list_says_where_every_standard_stands(run, approved):
    told = run("list")
    assert "driver" in told
    assert "approved" in told


def test_a_draft_may_be_for_some_of_the_golfers_of_its_evidence(academy, run):
    file = academy / "juniors.toml"
    told = run(
        "draft", str(file), "--edition", "spring", "--cohort", "driver/to_12", "--name", "juniors",
        "--title", "Juniors", "--review", "2031-05-01", "--feature", "tempo", "--why", "x",
        "--age-to", "17", "--handicap-above", "+1.5", "--handicap-to", "12",
    )  # fmt: skip
    assert "is not the group the standard is for" in re.sub(r"\s+", " ", told)
    golfers = tomllib.loads(file.read_text(encoding="utf-8"))["golfers"]
    assert golfers == {
        "club": "driver", "age_to": 17, "handicap_above": "+1.5", "handicap_to": 12.0,
    }  # fmt: skip
    assert "is in review" in run("review", str(file), *SIGNED)


def test_a_draft_keeps_the_levels_of_its_evidence_where_no_handicap_is_named(academy, run):
    file = academy / "women.toml"
    run(
        "draft", str(file), "--edition", "spring", "--cohort", "driver/to_12", "--name", "women",
        "--title", "Women", "--review", "2031-05-01", "--feature", "tempo", "--why", "x",
        "--sex", "female",
    )  # fmt: skip
    golfers = tomllib.loads(file.read_text(encoding="utf-8"))["golfers"]
    assert golfers == {"club": "driver", "levels": ["to_12"], "sex": "female"}


def test_retiring_comes_last(run, academy, make):
    file = academy / "short.toml"
    run(
        "draft", str(file), "--edition", "spring", "--cohort", "driver/to_12", "--name", "short",
        "--title", "Short", "--review", "2031-05-01", "--feature", "tempo", "--why", "x",
    )  # fmt: skip
    run("review", str(file), *SIGNED)
    assert "is retired" in run("retire", "short", *SIGNED)
    with pytest.raises(StandardRefused, match="is retired"):
        run("approve", "short", *AGREED)


@pytest.mark.parametrize("words", ["lift", "lift:top", "roll:top:impact", "lift:top:impact:x"])
def test_a_stretch_that_is_not_understood_is_refused(run, academy, words):
    with pytest.raises(StandardRefused, match="is no stretch"):
        run(
            "draft", str(academy / "no.toml"), "--edition", "spring", "--cohort", "driver/to_12",
            "--name", "no", "--title", "No", "--review", "2031-05-01", "--stretch", words,
        )  # fmt: skip
    assert not (academy / "no.toml").exists()


def test_a_golfers_placements_are_listed_with_what_they_were_judged_by(academy, approved, tmp_path):
    path = academy / "academy.duckdb"
    with open_store(path) as store:
        golfer, edition = store.golfer("Q0032"), store.edition("spring")
        placement = place_swing(store.swing("Q0032-000"), edition, golfer=golfer)
        store.placements.keep(placement, placement_document(placement))
        verdict = judge_placement(store, placement, approved)
        standard_hash = store.standards.standard(approved).decisions[-1].standard_hash
    listed = tmp_path / "placements.json"
    words = ["placements", "Q0032", "--store", str(path), "--json", str(listed)]
    result = CliRunner().invoke(whole_app, words)
    assert result.exit_code == 0, result.output
    told = re.sub(r"\s+", " ", result.output)
    assert f"Q0032-000 2026-05-01 spring {edition.content_hash[:12]}" in told
    assert f"Q0032-000 driver {verdict.verdict} {standard_hash[:12]} spring" in told
    document = json.loads(listed.read_text(encoding="utf-8"))
    assert document["placements"][0]["edition_hash"] == edition.content_hash
    assert document["verdicts"][0]["standard_hash"] == standard_hash
