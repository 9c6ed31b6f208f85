"""An edition from which a golfer was erased has again what stood beside its bands."""

from datetime import UTC, date, datetime

import numpy as np
import pytest

from norms.cohort.edition import verify_edition
from norms.cohort.own_shapes import memberships_of
from norms.records import DatedHandicap, FileOutcome, FilterFacts, Golfer
from pipelines.build_edition import build_edition
from pipelines.erase_golfer import erase_golfer
from pipelines.lab_profiles import keep_profile
from pipelines.store import open_store

NOW = datetime(2026, 6, 1, tzinfo=UTC)
GONE = "Q0003"


@pytest.fixture(scope="module")
def added():
    return FilterFacts(
        cutoff_hz=10.0,
        cutoff_method="fixed",
        noise_sd_cm=np.full(3, 0.1),
        position_sd_cm=np.full(3, 0.03),
        rate_sd_cm_s=np.full(3, 1.0),
        rate_bias_cm_s=np.full(3, 1.0),
    )


def keep(store, pool, rows, swing_with, added, started_at):
    swings = [
        swing_with(
            pool.swings[row],
            pool.golfers[row],
            pool.curves_cm[row],
            dict(zip(pool.feature_names, pool.features[row].tolist(), strict=True)),
            club=pool.clubs[row],
            lab=pool.labs[row],
            recorded_on=pool.recorded_on[row],
            filtering=added,
        )
        for row in rows
    ]
    outcomes = [
        FileOutcome(source=s.label.source, lab=s.label.lab, status="accepted", code="ok",
                    message="", swing=s.label.swing, content_hash=s.label.content_hash)
        for s in swings
    ]  # fmt: skip
    store.add_swings(swings, outcomes, store.begin_run("North bay", started_at))


@pytest.fixture
def path(tmp_path, small_academy, swing_with, north_bay, added):
    """Frozen from the drivers; the other club's swings are collected after that."""
    place, pool = tmp_path / "academy.duckdb", small_academy.pool
    drivers = [row for row, club in enumerate(pool.clubs) if club == "driver"]
    with open_store(place, create=True) as store:
        keep_profile(store, north_bay)
        store.add_golfers(list(small_academy.golfers.values()))
        keep(store, pool, drivers, swing_with, added, NOW)
        build_edition(store, "spring")
        later = sorted(set(range(len(pool.swings))) - set(drivers))
        keep(store, pool, later, swing_with, added, datetime.now(UTC))
    return place


def test_annexes_are_those_of_a_build_without_the_golfer(path):
    with open_store(path) as store:
        before = store.edition("spring")
        assert GONE in memberships_of(before, "driver")  # what there is to take out
    erased = erase_golfer(path, GONE, why="asked", who="data officer")
    assert erased.annexes_lost == {}
    with open_store(path) as store:
        after = store.edition("spring")
        swings = store.swing_pool()
        # What a build says that never knew the golfer, nor the club that came later.
        later = "(SELECT code FROM swing WHERE club <> 'driver')"
        for table, key in (("swing_event", "swing"), ("swing_feature", "swing"), ("swing", "code")):
            store._database.script(f"DELETE FROM {table} WHERE {key} IN {later}")
        never = build_edition(store, "never")
    assert GONE not in swings.golfers
    assert verify_edition(after)
    assert [(a.kind, a.subject) for a in after.annexes] == [
        (a.kind, a.subject) for a in before.annexes
    ]
    fresh = {(a.kind, a.subject): a for a in never.annexes}
    for annex in after.annexes:
        if annex.kind in ("noise", "lab_terms"):
            continue  # pooled, and kept as they were
        other = fresh[annex.kind, annex.subject]
        assert annex.document == other.document, annex.kind
        for name, values in annex.arrays.items():
            np.testing.assert_allclose(values, other.arrays[name], err_msg=annex.kind)
    assert GONE not in str(after.evidence)
    assert after.evidence["own_shapes"] == never.evidence["own_shapes"]


def test_where_the_means_are_no_longer_those_that_were_frozen_bands_alone_stay_and_it_is_said(path):
    with open_store(path) as store:
        moved = DatedHandicap(since=date(2020, 1, 1), index=40.0)
        store.add_golfers([Golfer(code="Q0001", hand="right", handicaps=(moved,))])
    erased = erase_golfer(path, GONE, why="asked", who="data officer")
    assert "not those it was frozen with" in erased.annexes_lost["spring"]
    with open_store(path) as store:
        after = store.edition("spring")
    assert verify_edition(after)
    assert {annex.kind for annex in after.annexes} <= {"noise", "lab_terms"}
    assert after.cell("driver/all").bands is not None
