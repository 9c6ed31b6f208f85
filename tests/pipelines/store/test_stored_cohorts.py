"""Named cohorts, evidence and editions from elsewhere, through the store and back."""

from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np

from norms.cohort.edition import content_hash, verify_edition
from norms.records import Cohort, CohortDefinition, CohortNorms, Level

NOW = datetime(2026, 11, 1, tzinfo=UTC)
NAMED = CohortDefinition(
    key="women_driver",
    club="driver",
    name="women_driver",
    title="Women, driver",
    levels=(Level(key="to_5", label="to 5", above=0.0, to=5.0),),
    sex="female",
    age_from=18,
    labs=("North bay", "Range hut"),
    recorded_from=date(2025, 3, 1),
    recorded_to=date(2026, 2, 28),
    largest_filled_share=0.1,
)


def with_cells(edition, *cells):
    return replace(edition, cells=cells, content_hash=content_hash(cells, edition.parameters))


def test_a_named_cohort_comes_back_with_its_days_and_levels(store, make_edition):
    edition = make_edition()
    cell = edition.cells[0]
    named = replace(cell, cohort=replace(cell.cohort, definition=NAMED))
    store.save_edition(with_cells(edition, named), NOW)
    again = store.edition(edition.name)
    assert again.cells[0].cohort.definition == NAMED
    assert verify_edition(again)


def test_evidence_comes_back_as_it_went_in(store, make_edition):
    evidence = {"attrition": {"driver/all": [{"rule": "no consent", "swings": 3}]}, "day": None}
    store.save_edition(replace(make_edition(), evidence=evidence), NOW)
    assert store.edition("2026").evidence == evidence


def test_an_edition_without_its_golfers_keeps_counts_and_hash(store, make_edition):
    def emptied(cell):
        golfers, swings = cell.counts
        nobody = Cohort(
            definition=cell.cohort.definition,
            golfers=(),
            swing_counts=np.empty(0),
            curves_cm=np.empty((0, 3, 301)),
            feature_names=cell.cohort.feature_names,
            features=np.empty((0, len(cell.cohort.feature_names))),
        )
        return CohortNorms(
            cohort=nobody, bands=cell.bands, withheld=cell.withheld, golfers=golfers, swings=swings
        )

    whole = with_cells(make_edition(), *make_edition().cells)
    store.save_edition(replace(whole, cells=tuple(map(emptied, whole.cells))), NOW)
    again = store.edition(whole.name)
    assert [cell.counts for cell in again.cells] == [cell.counts for cell in whole.cells]
    assert again.cells[0].cohort.golfers == ()
    assert again.content_hash == whole.content_hash
    assert verify_edition(again)


def test_the_pool_knows_the_largest_filled_share_of_each_swing(store, make_swing):
    swings = [make_swing(2), make_swing(1)]
    run = store.begin_run("North bay", NOW)
    store.add_swings(swings, [], run)
    shares = store.swing_pool().filled_share
    np.testing.assert_array_equal(
        shares, [make_swing(1).filled_share.max(), make_swing(2).filled_share.max()]
    )
