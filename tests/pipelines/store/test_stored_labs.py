"""What the store keeps of labs and of measurement: it comes back as it went in."""

import dataclasses
import json
from datetime import UTC, date, datetime

import duckdb
import numpy as np
import pytest

from norms.cohort.annex_contents import lab_terms_in, noise_budgets, withheld_findings
from norms.cohort.edition import content_hash, verify_edition
from norms.cohort.measurement_annexes import with_measurement
from norms.errors import StoreRefused
from norms.records import (
    Estimates,
    FilterFacts,
    LabEffect,
    LabTerms,
    MeasurementError,
    SessionHold,
    SessionRelease,
)
from norms.records.plain import take_apart
from pipelines.store import open_store
from pipelines.store.database import Database
from pipelines.store.migrations import apply_migrations, known_migrations

NOON = datetime(2026, 5, 1, 12, tzinfo=UTC)
DAY = date(2026, 5, 1)
HOLD = SessionHold(lab="North bay", recorded_on=DAY, reason="off", held_at=NOON)
RELEASE = SessionRelease(
    lab="North bay", recorded_on=DAY, who="head of the lab", why="the mat sloped", released_at=NOON
)


def measured(swing):
    """The swing with everything it can know about its own error."""
    names = list(swing.features.values)
    rng = np.random.default_rng(3)
    marks = {
        name: dataclasses.replace(swing.events.mark(name), confidence=confidence)
        for name, confidence in (("start", "medium"), ("top", "low"))
    }
    return dataclasses.replace(
        swing,
        events=dataclasses.replace(swing.events, **marks),
        features=dataclasses.replace(
            swing.features, uncertainty=dict(zip(names, rng.random(len(names)), strict=True))
        ),
        filtering=FilterFacts(
            cutoff_hz=12.5,
            cutoff_method="residual analysis",
            noise_sd_cm=rng.random(3),
            position_sd_cm=rng.random(3),
            rate_sd_cm_s=np.array([0.1 + 0.2, np.nan, 3.0]),
            rate_bias_cm_s=rng.random(3),
        ),
    )


def bits(record):
    document, arrays = take_apart(record)
    return document, {name: values.tobytes() for name, values in arrays.items()}


def test_a_swing_keeps_what_it_knows_about_its_error(store, make_swing):
    swing = measured(make_swing(1))
    store.add_swings([swing, make_swing(2)], [], store.begin_run("North bay", NOON))
    kept = store.swing("S00001")
    assert bits(kept.filtering) == bits(swing.filtering)
    assert kept.features.uncertainty == swing.features.uncertainty
    assert kept.events.top.confidence == "low"
    assert store.swing("S00002").filtering is None


def test_qualities_say_of_every_swing_how_it_was_measured(store, make_swing):
    swings = [measured(make_swing(number)) for number in (3, 1, 2)]
    store.add_swings(swings, [], store.begin_run("North bay", NOON))
    qualities = store.swing_qualities()
    assert [one.swing for one in qualities] == ["S00001", "S00002", "S00003"]
    first, swing = qualities[0], swings[1]
    assert first.events == {name: swing.events.mark(name) for name in first.events}
    assert set(first.events) == {"address", "start", "top", "impact", "finish"}
    assert first.notices == swing.notices
    np.testing.assert_array_equal(first.filled_share, swing.filled_share)
    assert bits(first.filtering) == bits(swing.filtering)


def test_a_session_held_twice_keeps_its_first_reason(store):
    store.hold_sessions([HOLD])
    store.hold_sessions([dataclasses.replace(HOLD, reason="another")])
    (kept,) = store.session_holds()
    assert (kept.lab, kept.recorded_on, kept.reason) == ("North bay", DAY, "off")
    assert kept.held_at == NOON.replace(tzinfo=None)


def test_a_release_is_kept_with_who_why_and_when(store):
    store.hold_sessions([HOLD])
    store.release_session(RELEASE)
    (kept,) = store.session_releases()
    assert (kept.who, kept.why) == ("head of the lab", "the mat sloped")
    assert kept.released_at == NOON.replace(tzinfo=None)
    with pytest.raises(StoreRefused, match="released before by head of the lab"):
        store.release_session(RELEASE)


def test_a_session_that_is_not_held_cannot_be_released_and_the_held_ones_are_named(store):
    store.hold_sessions([HOLD])
    other = dataclasses.replace(RELEASE, recorded_on=date(2026, 5, 2))
    with pytest.raises(StoreRefused, match="North bay, 2026-05-01") as refusal:
        store.release_session(other)
    assert refusal.value.code == "session_not_held"
    assert store.session_releases() == []


def noise(seed):
    rng = np.random.default_rng(seed)
    d = 2

    def estimates():
        return Estimates(
            value=np.array([rng.random(), np.nan]), low=rng.random(d), high=rng.random(d)
        )

    columns = ("golfer_sd", "day_sd", "swing_sd", "lab_sd", "sdc_within", "sdc_between")
    nodes = ("golfer_node_sd_cm", "day_node_sd_cm", "swing_node_sd_cm")
    intervals = ("icc_within", "icc_between", "sem_within", "sem_between")
    return MeasurementError(
        club="driver",
        confidence=0.95,
        golfers=6,
        days=7,
        swings=8,
        golfers_of_several_days=1,
        labs=("North bay",),
        feature_names=("sway_top", "tempo"),
        feature_golfers=np.array([6, 5]),
        feature_days=np.array([4, 3]),
        feature_swings=np.array([5, 4]),
        individuality=np.array([np.inf, -0.0]),
        **{name: rng.random(d) for name in columns},
        **{name: rng.random((3, 301)) for name in nodes},
        **{name: estimates() for name in intervals},
    )


def terms(seed):
    rng = np.random.default_rng(seed)
    columns = ("centre", "shift", "shift_low", "shift_high", "scale", "scale_low", "scale_high")
    effect = LabEffect(
        lab="Range hut",
        reference="North bay",
        club="driver",
        method="same_golfers",
        golfers=9,
        confidence=0.95,
        feature_names=("sway_top", "tempo"),
        allowed_shift=rng.random(2),
        allowed_scale=1.2,
        verdicts=("alike", "apart"),
        **{name: rng.random(2) for name in columns},
    )
    return LabTerms(effect=effect, curve_shift_cm=rng.random((3, 301)))


def test_the_noise_budget_and_the_terms_of_an_edition_come_back_bit_for_bit(store, make_edition):
    made = with_measurement(make_edition("2026"), {"driver": noise(1)}, [terms(2)])
    store.save_edition(made, NOON)
    store.save_edition(make_edition("plain", seed=1), NOON)
    kept = store.edition("2026")
    assert verify_edition(kept)
    assert list(noise_budgets(kept)) == ["driver"]
    assert bits(noise_budgets(kept)["driver"]) == bits(noise(1))
    assert [bits(one) for one in lab_terms_in(kept)] == [bits(terms(2))]
    plain = store.edition("plain")
    assert noise_budgets(plain) == {}
    assert lab_terms_in(plain) == []


def test_another_noise_budget_is_another_edition(store, make_edition):
    one, other = (
        with_measurement(make_edition("2026"), {"driver": noise(seed)}, []) for seed in (1, 2)
    )
    assert one.content_hash != other.content_hash
    store.save_edition(one, NOON)
    with pytest.raises(StoreRefused, match="frozen"):
        store.save_edition(other, NOON)


def test_the_error_of_fewer_golfers_than_may_stand_for_a_group_is_withheld(make_edition):
    few = dataclasses.replace(noise(1), golfers=4)
    made = with_measurement(make_edition("2026"), {"driver": few}, [])
    assert noise_budgets(made) == {}
    assert "4 golfers" in withheld_findings(made, "noise")["driver"]


def test_a_store_from_before_is_brought_up_with_stand_ins_of_medium_confidence(tmp_path):
    path = tmp_path / "old.duckdb"
    with duckdb.connect(str(path)) as old:
        apply_migrations(Database(old, "old"), known_migrations()[:2])
        old.execute(
            "INSERT INTO swing_event VALUES ('S1', 'top', 1.0, 'hands', true, 0.01), "
            "('S1', 'impact', 1.3, 'file', false, 0.01)"
        )
    with open_store(path) as store:
        marks = dict(store._database.script("SELECT event, confidence FROM swing_event"))
    assert marks == {"top": "medium", "impact": "high"}


def test_the_measurement_of_an_edition_from_before_moves_to_its_annexes(tmp_path, make_edition):
    """In version 9 it stood in tables of its own, arrays as JSON with NaN as a word."""
    path = tmp_path / "version9.duckdb"
    edition = make_edition("2026")
    with duckdb.connect(str(path), config={"storage_compatibility_version": "v1.4.0"}) as raw:
        apply_migrations(Database(raw, "raw"), known_migrations()[:9])
        raw.execute(
            "INSERT INTO edition VALUES ('2026', ?, ?, '{}', TIMESTAMP '2026-05-01')",
            [edition.content_hash, json.dumps(edition.parameters)],
        )
        raw.execute("INSERT INTO edition_noise VALUES ('2026', 'driver', ?)", [payload(noise(1))])
        raw.execute(
            "INSERT INTO edition_lab VALUES ('2026', 'Range hut', 'driver', ?)", [payload(terms(2))]
        )
    with open_store(path) as store:
        kept = store.edition("2026")
    assert bits(noise_budgets(kept)["driver"]) == bits(noise(1))
    assert [bits(one) for one in lab_terms_in(kept)] == [bits(terms(2))]
    without = content_hash(edition.cells, edition.parameters)
    assert content_hash(edition.cells, edition.parameters, kept.annexes) == without


def payload(record):
    document, arrays = take_apart(record)
    plain = {
        name: {
            "shape": values.shape,
            "values": [value if np.isfinite(value) else str(value) for value in values.ravel()],
        }
        for name, values in arrays.items()
    }
    return json.dumps({"document": document, "arrays": plain}, allow_nan=False)
