"""From a store to an edition with everything beside its bands, and what persons excluded."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest

from norms.cohort.annex_contents import screening_counts, weightings, whole_curve_bands
from norms.cohort.annexes import NOISE_CM
from norms.cohort.edition import verify_edition
from norms.errors import CohortRefused, NormsError, StoreRefused
from norms.records import FilterFacts, Golfer
from norms.records.consent import Consent
from pipelines.build_edition import build_edition
from pipelines.edition_annexes import TIMING_FEATURES, annex_choices
from pipelines.exclude import exclude, readmit, standing_exclusions
from pipelines.export_edition import export_edition
from pipelines.import_edition import read_edition
from pipelines.lab_profiles import keep_profile
from pipelines.store import open_store

NOW = datetime(2026, 6, 1, tzinfo=UTC)


def facts(noise_cm):
    return FilterFacts(
        cutoff_hz=10.0,
        cutoff_method="fixed",
        noise_sd_cm=np.full(3, 0.1),
        position_sd_cm=np.full(3, noise_cm),
        rate_sd_cm_s=np.full(3, 1.0),
        rate_bias_cm_s=np.full(3, 1.0),
    )


def guardians_words(golfers):
    """Of everyone, so that nobody's is missing who is or was a junior."""
    day = date(2025, 1, 11)
    return [
        Consent(golfer=code, purpose="norms", given=True, decided_on=day, guardian=True)
        for code in golfers
    ]


@pytest.fixture
def store(tmp_path, small_academy, swing_with, north_bay):
    with open_store(tmp_path / "academy.duckdb", create=True) as opened:
        keep_profile(opened, north_bay)
        opened.add_golfers(list(small_academy.golfers.values()))
        opened.consents.add(guardians_words(small_academy.golfers))
        pool = small_academy.pool
        swings = [
            swing_with(
                code,
                pool.golfers[row],
                pool.curves_cm[row],
                dict(zip(pool.feature_names, pool.features[row].tolist(), strict=True)),
                club=pool.clubs[row],
                lab=pool.labs[row],
                recorded_on=pool.recorded_on[row],
                filtering=facts(0.03),
            )
            for row, code in enumerate(pool.swings)
        ]
        opened.add_swings(swings, [], opened.begin_run("North bay", NOW))
        yield opened


def test_the_same_store_gives_the_same_hash_twice_and_keeps_it(store):
    first, second = build_edition(store, "first"), build_edition(store, "second")
    assert first.content_hash == second.content_hash
    kept = store.edition("first")
    assert verify_edition(kept)
    assert kept.content_hash == first.content_hash
    assert {annex.kind for annex in kept.annexes} >= {
        "whole_curve",
        "screening",
        "partition",
        "centiles",
        "sufficiency",
        "weighting",
    }


@pytest.mark.parametrize("table_format", ["parquet", "csv"])
def test_an_export_carries_the_annexes_exactly_and_no_golfer(store, tmp_path, table_format):
    made = build_edition(store, "spring")
    folder = tmp_path / "out"
    export_edition(store, "spring", folder, table_format=table_format)
    back = read_edition(folder)
    for kept, own in zip(back.annexes, made.annexes, strict=True):
        assert kept.document == own.document
        for name, values in own.arrays.items():
            np.testing.assert_array_equal(kept.arrays[name], values)
    assert "Q0050" not in (folder / "edition.json").read_text(encoding="utf-8")


def test_weights_leave_the_academy_as_whole_percents_and_sums_alone(store, tmp_path):
    # Five golfers of the roster, of whom nobody was recorded, show in no more than a percent.
    store.add_golfers([Golfer(code=f"Q9{i:03d}", hand="right", sex="female") for i in range(5)])
    build_edition(store, "spring")
    export_edition(store, "spring", tmp_path / "out")
    written = json.loads((tmp_path / "out" / "edition.json").read_text(encoding="utf-8"))
    told = [one for one in written["annexes"] if one["kind"] == "weighting" and one["document"]]
    assert told
    for one in told:
        for share in one["document"]["margins"]:
            for name in ("membership", "cohort"):
                assert share[name] == round(share[name], 2)
        n = len(one["document"]["percents"]), len(one["document"]["feature_names"])
        assert {name: tuple(shape) for name, shape in one["shapes"].items()} == dict.fromkeys(
            ("value", "low", "high"), n
        )
    back = read_edition(tmp_path / "out")
    weighed = weightings(back)["driver/all"]
    assert [(one.margin, one.category) for one in weighed.absent] == [("age", "unknown")]
    assert weighed.reach == 0.95  # 96 of 101
    assert weighed.design_effect == 1.0  # the 96 who are reached are all in it


def test_an_export_with_a_number_of_an_annex_missing_is_refused(store, tmp_path):
    build_edition(store, "spring")
    export_edition(store, "spring", tmp_path / "out", table_format="csv")
    table = tmp_path / "out" / "annex_arrays.csv"
    lines = table.read_text(encoding="utf-8").splitlines()
    table.write_text("\n".join(lines[:-1]) + "\n", encoding="utf-8")
    with pytest.raises(CohortRefused, match="not whole"):
        read_edition(tmp_path / "out")


def test_an_excluded_golfer_is_left_out_counted_and_named_with_who_and_why(store):
    before = build_edition(store, "before")
    exclude(store, golfer="Q0050", reason="wore  a brace", decided_by="head coach")
    after = build_edition(store, "after")
    assert "Q0050" in before.cell("driver/all").cohort.golfers
    assert "Q0050" not in after.cell("driver/all").cohort.golfers
    assert after.attrition["left out by a person's decision"] == 4
    (told,) = (one for one in after.evidence["left_out"]["every cohort"] if one["decided_by"])
    assert told["reason"] == "wore a brace"
    assert told["decided_by"] == "head coach"
    assert screening_counts(after)["driver/all"].golfers == 95


def test_an_excluded_swing_leaves_its_golfer_in(store):
    exclude(store, swing="Q0050-d0", reason="slipped", decided_by="lab lead")
    edition = build_edition(store, "without")
    cohort = edition.cell("driver/all").cohort
    assert cohort.swing_counts[cohort.golfers.index("Q0050")] == 1
    assert edition.attrition["left out by a person's decision"] == 1


def test_a_readmitted_golfer_gives_the_earlier_numbers_again(store):
    before = build_edition(store, "before")
    exclude(store, golfer="Q0050", reason="wore a brace", decided_by="head coach")
    readmit(store, golfer="Q0050", reason="no brace after all", decided_by="head coach")
    assert standing_exclusions(store) == []
    assert build_edition(store, "again").content_hash == before.content_hash
    assert len(store.exclusions()) == 1


@pytest.mark.parametrize(
    ("named", "said"),
    [
        ({"golfer": "Q0001", "reason": " ", "decided_by": "head coach"}, "why is empty"),
        ({"golfer": "Q0001", "reason": "r", "decided_by": ""}, "who decides is empty"),
        ({"reason": "r", "decided_by": "d"}, "either one golfer or one swing"),
        (
            {"golfer": "Q0001", "swing": "Q0001-d0", "reason": "r", "decided_by": "d"},
            "either one golfer or one swing",
        ),
        ({"golfer": "Q7777", "reason": "r", "decided_by": "d"}, "Q7777 is not on the roster"),
        ({"swing": "nothing", "reason": "r", "decided_by": "d"}, "nothing is not in"),
    ],
)
def test_a_faulty_exclusion_is_refused_and_keeps_nothing(store, named, said):
    with pytest.raises(NormsError, match=said):
        exclude(store, **named)
    assert store.exclusions() == []


def test_only_a_standing_exclusion_can_be_taken_back(store):
    with pytest.raises(StoreRefused, match="not left out"):
        readmit(store, golfer="Q0001", reason="r", decided_by="d")


def test_the_floor_is_the_labs_noise_and_never_below_common_practice(store, small_academy):
    qualities = store.swing_qualities()
    usual = annex_choices(qualities, small_academy.pool)
    assert usual.noise_cm == NOISE_CM
    assert "0.030 cm" in usual.noise_source
    noisy = [
        replace(one, filtering=replace(one.filtering, position_sd_cm=np.array([0.3, 0.4, 0.0])))
        for one in qualities
    ]
    loud = annex_choices(noisy, small_academy.pool)
    assert loud.noise_cm == pytest.approx(np.sqrt((0.09 + 0.16) / 3))
    assert annex_choices([], small_academy.pool).noise_cm == NOISE_CM
    assert set(TIMING_FEATURES) >= {"tempo", "sway_turn_lead", "sway_rate_max_at"}


def test_the_floor_is_recorded_with_every_band(store):
    edition = build_edition(store, "spring")
    assert {band.floor_cm for band in whole_curve_bands(edition).values()} == {NOISE_CM}
    assert edition.parameters["annexes"]["noise_cm"] == NOISE_CM
