"""Cohort file, plan, compare, export, adopt and peers through a store of invented golfers."""

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from norms.cohort.edition import build_edition, verify_edition
from norms.cohort.levels import DEFAULT_LEVELS
from norms.errors import CohortRefused, NormsError, StandardRefused, StoreRefused
from norms.records import BallSpeed, DatedHandicap, Exclusion, Golfer
from norms.standards.evidence import evidence_cell
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.adopt_edition import adopt_edition
from pipelines.cohort_file import cohorts_of, read_cohorts, take_cohorts
from pipelines.compare_editions import compare_editions
from pipelines.export_edition import export_edition
from pipelines.import_edition import import_edition, read_edition
from pipelines.lab_profiles import keep_profile
from pipelines.match_peers import match_peers
from pipelines.plan_cohort import plan_cohort
from pipelines.store import Store, open_store

NOW = datetime(2026, 11, 1, tzinfo=UTC)


@pytest.fixture
def fill(swing_with) -> Callable[..., None]:
    def into(store: Store, codes: list[str], shift: float = 0.0) -> None:
        store.add_golfers(
            [
                Golfer(
                    code=code,
                    hand="right",
                    sex="female" if int(code[1:]) % 2 else "male",
                    birth_year=1990,
                    handicaps=(DatedHandicap(since=date(2025, 1, 1), index=8.0),),
                )
                for code in codes
            ]
        )
        run = store.begin_run("North bay", NOW)
        swings = []
        for code in codes:
            for number in range(2):
                rng = np.random.default_rng([number, *code.encode()])
                curves = rng.normal(4, 2, (3, 1)) * np.sin(np.linspace(0, 3, 301))
                features = rng.normal(size=len(FEATURE_NAMES)) + shift
                swings.append(swing_with(f"{code}-{number}", code, curves, features))
        store.add_swings(swings, [], run)
        store.add_ball_speeds(
            [
                BallSpeed(swing=s.label.swing, ball_speed_mps=60.0 + i % 7)
                for i, s in enumerate(swings)
            ]
        )

    return into


def build(store: Store, name: str) -> None:
    left_out = Exclusion(golfer="Q0001", reason="borrowed clubs", decided_by="head coach")
    edition = build_edition(
        name,
        store.swing_pool(),
        store.golfers(),
        cohorts=cohorts_of(store),
        exclusions=[left_out],
    )
    store.save_edition(edition, NOW)


def codes(letter: str, count: int) -> list[str]:
    return [f"{letter}{i:04d}" for i in range(count)]


@pytest.fixture
def theirs(north_bay, fill) -> Iterator[Store]:
    with open_store(":memory:") as store:
        keep_profile(store, north_bay)
        fill(store, codes("Q", 70))
        build(store, "spring")
        yield store


@pytest.fixture
def local(north_bay, fill) -> Iterator[Callable[[int, float], Store]]:
    opened = []

    def make(count: int, shift: float = 0.0) -> Store:
        store = open_store(":memory:")
        opened.append(store)
        keep_profile(store, north_bay)
        fill(store, codes("L", count), shift)
        return store

    yield make
    for store in opened:
        store.close()


# The cohort file


def write(folder: Path, text: str) -> Path:
    file = folder / "cohorts.toml"
    file.write_text(text, encoding="utf-8")
    return file


WHOLE = """
[[cohort]]
name = "women_driver"
title = "Women, driver"
club = "driver"
sex = "female"
age_from = 18
age_to = 64
handicap_above = "+2.0"
handicap_to = 20
labs = ["North bay"]
recorded_from = 2025-03-01
recorded_to = 2026-12-31
largest_filled_share = 0.1

[[cohort]]
name = "low"
club = "driver"
levels = ["scratch", "to_5"]
"""


def test_a_cohort_file_says_what_it_says(tmp_path):
    women, low = read_cohorts(write(tmp_path, WHOLE), DEFAULT_LEVELS)
    assert (women.key, women.label, women.sex) == ("women_driver", "Women, driver", "female")
    assert (women.handicap_above, women.handicap_to) == (-2.0, 20.0)
    assert (women.recorded_from, women.recorded_to) == (date(2025, 3, 1), date(2026, 12, 31))
    assert [level.key for level in low.levels] == ["scratch", "to_5"]


def test_the_store_keeps_cohorts_for_the_next_edition(theirs, tmp_path):
    taken = take_cohorts(theirs, write(tmp_path, WHOLE))
    assert take_cohorts(theirs, None) == taken
    build(theirs, "named")
    edition = theirs.edition("named")
    women = edition.cell("women_driver")
    assert women.counts == (34, 68)  # 35 women, of whom one was left out
    assert women.cohort.definition == taken[0]
    assert verify_edition(edition)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[[cohort]]\nname = "a"', "cohort 'a': club: is missing; state it"),
        ('[[cohort]]\nclub = "driver"', "cohort 1: name: is missing; state it"),
        (
            '[[cohort]]\nname = "a"\nclub = "x"\nage = 3',
            "cohort 'a': age: is no key of this file; allowed here: sex, age_from, ",
        ),
        ('[[cohort]]\nname = "a"\nclub = "x"\nconsent = false', "'a': consent: is no key"),
        ('[[cohort]]\nname = "a"\nclub = "x"\nage_from = "18"', "'a': age_from: input should be"),
        ('[[cohort]]\nname = "a"\nclub = "x"\nsex = "f"', "'a': sex: input should be 'female'"),
        (
            '[[cohort]]\nname = "a"\nclub = "x"\nlevels = ["best"]',
            "'best' is none of scratch, to_5",
        ),
        ('[[cohort]]\nname = "A"\nclub = "x"', "cohort 'A': name: small letters"),
        ('[[cohort]]\nname = "a"\nclub = "x"\nhandicap_to = +2.0', "handicap_to: write a plus"),
        ('[[cohort]]\nname = "a"\nclub = "x"\nhandicap_to = "+20"', "handicap_to: allowed is"),
        ('[[cohort]]\nname = "a"\nclub = "x"\nhandicap_to = nan', "handicap_to: input should be"),
        (
            '[[cohort]]\nname = "a"\nclub = "x"\nrecorded_from = 2025-03-01T10:00:00',
            "recorded_from: a day without a time",
        ),
        ('[[cohort]]\nname="a"\nclub="x"\n' * 2, "'a': name: stands twice"),
        ('cohort = "all"', "cohort: input should be a valid list"),
        ("cohort = [3]", "cohort 1: input should be"),
        ("[[cohort]", "is not a TOML file"),
    ],
)
def test_a_fault_names_file_cohort_and_key(tmp_path, text, message):
    with pytest.raises(CohortRefused) as refusal:
        read_cohorts(write(tmp_path, text), DEFAULT_LEVELS)
    assert "cohorts.toml: " in refusal.value.message
    assert message in refusal.value.message
    assert "\n" not in refusal.value.message


def test_a_cohort_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(CohortRefused, match=r"none\.toml: cannot be read"):
        read_cohorts(tmp_path / "none.toml", DEFAULT_LEVELS)


# Plan, compare, peers


def test_the_plan_of_a_stored_edition(theirs):
    plan = plan_cohort(theirs, "spring", golfers=(120,))
    assert plan.rows[0].needed > 0
    assert {width.feature for width in plan.widths} == {
        "sway_travel",
        "thrust_late_rise",
        "lift_rise",
    }


def test_an_edition_that_does_not_say_its_day_is_planned_for_the_newest_swing(theirs):
    old = theirs.edition("spring")
    theirs.save_edition(replace(old, name="old", evidence={}), NOW)
    one, other = plan_cohort(theirs, "old"), plan_cohort(theirs, "spring")
    assert one.rows == other.rows


def test_two_stored_editions_are_compared_with_a_seed(theirs, fill):
    fill(theirs, codes("R", 40), shift=3.0)
    build(theirs, "autumn")
    result = compare_editions(theirs, "spring", "autumn", seed=3)
    everyone = next(cell for cell in result.cells if cell.cohort_key == "driver/all")
    assert {"sway_top", "tempo"} <= {move.subject for move in everyone.moved}
    assert result == compare_editions(theirs, "spring", "autumn", seed=3)
    with pytest.raises(StoreRefused, match="winter"):
        compare_editions(theirs, "spring", "winter")


def test_a_stored_swing_among_peers_two_ways(theirs):
    peers = match_peers(theirs, "Q0003-0", exclusions=())
    assert peers.golfer == "Q0003"
    assert peers.by_handicap.golfers == 69
    assert 0 < peers.by_speed.golfers < 70
    assert len(peers.places) == len(FEATURE_NAMES)
    left_out = Exclusion(golfer="Q0009", reason="borrowed clubs", decided_by="head coach")
    fewer = match_peers(theirs, "Q0003-0", exclusions=[left_out])
    assert fewer.by_handicap.golfers == 68


# Export, import, adopt


@pytest.mark.parametrize("table_format", ["parquet", "csv"])
def test_an_exported_edition_comes_back_elsewhere_bit_for_bit(
    theirs, local, tmp_path, table_format
):
    files = export_edition(theirs, "spring", tmp_path / "out", table_format=table_format)
    assert [file.name for file in files] == [
        f"annex_arrays.{table_format}",
        f"curve_bands.{table_format}",
        "edition.json",
        f"feature_bands.{table_format}",
    ]
    ours = local(3)
    import_edition(ours, tmp_path / "out", "from elsewhere")
    there, here = theirs.edition("spring"), ours.edition("from elsewhere")
    assert here.content_hash == there.content_hash
    assert verify_edition(here)
    for cell in there.cells:
        same = here.cell(cell.cohort.definition.key)
        assert same.counts == cell.counts
        assert same.cohort.golfers == ()
        assert same.withheld == cell.withheld
        if cell.bands is not None:
            np.testing.assert_array_equal(same.bands.curve_low_cm, cell.bands.curve_low_cm)
            np.testing.assert_array_equal(same.bands.feature, cell.bands.feature)


def test_no_file_of_an_export_holds_a_golfer(theirs, tmp_path):
    take_cohorts(theirs, write(tmp_path, WHOLE))
    build(theirs, "named")
    files = export_edition(theirs, "named", tmp_path / "out", table_format="csv")
    for file in files:
        text = file.read_text(encoding="utf-8")
        assert "Q00" not in text
        assert "borrowed clubs" not in text
    held = theirs.edition("named")
    means = {f"{value!r}" for cell in held.cells for value in cell.cohort.features[:, 0].tolist()}
    table = pd.read_csv(tmp_path / "out" / "feature_bands.csv", dtype=str)
    # Interval limits are order statistics, so single values do stand there; no golfer's set of
    # features does: what one golfer has is spread over percentiles of many.
    row = table[(table["feature"] == FEATURE_NAMES[0]) & (table["percent"] == "50.0")]
    assert not set(row["value"]) <= means


def test_an_export_leaves_nothing_half_written_and_overwrites_nothing(theirs, tmp_path):
    folder = tmp_path / "out"
    export_edition(theirs, "spring", folder)
    before = sorted(file.read_bytes() for file in folder.iterdir())
    with pytest.raises(NormsError, match="exists already"):
        export_edition(theirs, "spring", folder)
    assert sorted(file.read_bytes() for file in folder.iterdir()) == before
    with pytest.raises(NormsError, match="cannot be written"):
        export_edition(theirs, "spring", tmp_path / "none" / "out")
    with pytest.raises(StoreRefused):
        export_edition(theirs, "winter", tmp_path / "other")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out"]


def test_a_changed_number_is_found(theirs, tmp_path):
    export_edition(theirs, "spring", tmp_path / "out", table_format="csv")
    file = tmp_path / "out" / "feature_bands.csv"
    lines = file.read_text().splitlines()
    place = next(i for i, line in enumerate(lines) if ",50.0,tempo," in line)
    cells = lines[place].split(",")
    cells[3] = repr(float(cells[3]) + 1e-12)
    lines[place] = ",".join(cells)
    file.write_text("\n".join(lines) + "\n")
    with pytest.raises(CohortRefused, match="not those that edition spring was frozen with"):
        read_edition(tmp_path / "out")


def test_a_damaged_export_is_refused_in_one_line(theirs, tmp_path):
    folder = tmp_path / "out"
    with pytest.raises(CohortRefused, match=r"edition\.json: cannot be read"):
        read_edition(folder)
    export_edition(theirs, "spring", folder)
    file = folder / "edition.json"
    document = json.loads(file.read_text())
    for fault in (
        {},
        [],
        document | {"schema": {"name": "edition", "version": 99}},
        document | {"cells": [{}]},
        document | {"cells": document["cells"][:2]},
    ):
        file.write_text(json.dumps(fault))
        with pytest.raises(CohortRefused) as refusal:
            read_edition(folder)
        assert "\n" not in refusal.value.message
    file.write_text(json.dumps(document))
    (folder / "curve_bands.parquet").write_bytes(b"no table")
    with pytest.raises(CohortRefused, match="is not a whole exported edition"):
        read_edition(folder)


def test_an_edition_that_holds_is_adopted_and_kept(theirs, local, tmp_path):
    export_edition(theirs, "spring", tmp_path / "out")
    ours = local(25)
    edition, (verdict,) = adopt_edition(ours, tmp_path / "out", ["driver/all"], exclusions=())
    assert verdict.verdict == "accept"
    assert verdict.local_golfers == 25
    assert ours.edition("spring").content_hash == edition.content_hash


def test_every_verdict_is_kept_with_an_imported_edition(theirs, local, tmp_path):
    export_edition(theirs, "spring", tmp_path / "out")
    ours = local(25)
    adopt_edition(ours, tmp_path / "out", ["driver/all"], exclusions=())
    kept = ours.edition("spring").evidence["verified"]
    assert kept["driver/all"]["verdict"] == "accept"
    assert kept["driver/all"]["local_golfers"] == 25
    assert date.fromisoformat(kept["driver/all"]["day"]) >= date(2026, 1, 1)
    # A later verdict on another group joins it; one on an edition imported before is kept, too.
    adopt_edition(ours, tmp_path / "out", ["driver/to_12"], exclusions=())
    assert ours.edition("spring").evidence["verified"].keys() == {"driver/all", "driver/to_12"}
    others = local(25, shift=2.5)
    import_edition(others, tmp_path / "out", "theirs")
    adopt_edition(others, tmp_path / "out", ["driver/all"], exclusions=(), name="theirs")
    refused = others.edition("theirs").evidence["verified"]["driver/all"]
    assert refused["verdict"] == "do not accept"
    assert refused["refused_by"]
    own = theirs.edition("spring")
    adopt_edition(ours, tmp_path / "out", ["driver/all"], exclusions=())
    assert "verified" not in own.evidence


def test_jobs_that_need_golfers_refuse_an_imported_edition_and_say_what_to_do(
    theirs, local, tmp_path
):
    export_edition(theirs, "spring", tmp_path / "out")
    ours = local(5)
    import_edition(ours, tmp_path / "out", "theirs")
    with pytest.raises(CohortRefused, match=r"theirs came without its golfers.*norms build"):
        plan_cohort(ours, "theirs")
    with pytest.raises(CohortRefused, match=r"theirs came without its golfers.*adopt"):
        compare_editions(ours, "theirs", "theirs")
    with pytest.raises(StandardRefused, match=r"theirs came without its golfers; build one"):
        evidence_cell(ours.edition("theirs"), "driver/all")


def test_an_edition_that_does_not_hold_is_not_kept(theirs, local, tmp_path):
    export_edition(theirs, "spring", tmp_path / "out")
    ours = local(25, shift=2.5)
    _, (verdict,) = adopt_edition(ours, tmp_path / "out", ["driver/all"], exclusions=())
    assert verdict.verdict == "do not accept"
    assert ours.edition_names() == []
    with pytest.raises(CohortRefused, match="has no group 'putter/all'"):
        adopt_edition(ours, tmp_path / "out", ["putter/all"], exclusions=())
