"""An edition sent to another academy, which places golfers of its own by it."""

import re
from dataclasses import replace

import numpy as np
import pytest

from demo_data.labs import LAB_KEYS
from norms.cohort.annex_contents import lab_terms_in
from norms.errors import CohortRefused
from pipelines.collect.profile import load_profile
from pipelines.export_edition import export_edition
from pipelines.import_edition import import_edition
from pipelines.place_roster import place_roster
from pipelines.place_sheet import place_sheet
from pipelines.read_capture import PlaceRequest
from pipelines.store import open_store
from pipelines.track_progress import track_progress
from reports.patterns_page import patterns_page
from reports.placement_page import placement_page
from reports.sheet_page import sheet_page


@pytest.fixture(scope="module")
def elsewhere(academy, tmp_path_factory):
    """A store of another academy, with nothing in it but the edition."""
    folder = tmp_path_factory.mktemp("elsewhere")
    with open_store(academy.store) as store:
        export_edition(store, "spring", folder / "export", table_format="csv")
    path = folder / "elsewhere.duckdb"
    with open_store(path, create=True) as store:
        import_edition(store, folder / "export", "theirs")
    return path


@pytest.fixture(scope="module")
def both(academy, elsewhere):
    """A newcomer's swing from the reference lab, so that no lab's terms come in between."""
    in_terms = {terms.effect.lab for terms in lab_terms_in(academy.edition)}
    (reference,) = (
        key
        for key in LAB_KEYS
        if load_profile(academy.folder / f"{key}.toml").lab.name not in in_terms
    )
    capture, hand = next(
        (academy.folder / file, golfer.person.golfer.hand)
        for golfer in academy.truth.golfers
        for swing in golfer.swings
        for file, outcome in academy.outcomes.items()
        if swing.club == "driver" and swing.lab == reference
        if outcome.swing == swing.code and outcome.status == "accepted"
    )
    request = PlaceRequest(
        capture=capture,
        edition="spring",
        profile=academy.folder / f"{reference}.toml",
        golfer="Q9999",
        hand=hand,
        handicap=14.0,
        level="all",
    )
    with open_store(academy.store) as store:
        own, _ = place_sheet(store, request)
    with open_store(elsewhere) as store:
        foreign, _ = place_sheet(store, replace(request, edition="theirs"))
    return own, foreign


def test_bands_and_whole_curve_are_those_of_the_academy_that_built_them(both):
    own, foreign = (one.placement for one in both)
    assert foreign.edition_hash == own.edition_hash
    for name in ("curve_cm", "curve_low_cm", "curve_high_cm", "feature", "feature_high"):
        np.testing.assert_array_equal(getattr(foreign.bands, name), getattr(own.bands, name))
    assert foreign.whole_curve.excursions == own.whole_curve.excursions
    assert foreign.whole_curve.deviation_sd == pytest.approx(own.whole_curve.deviation_sd)


def test_every_percentile_agrees_within_the_published_interval(both):
    own, foreign = both
    compared = 0
    for here, there in zip(own.places, foreign.places, strict=True):
        assert (here.low is None) == (there.low is None)
        if here.percentile is not None:
            compared += 1
            assert there.low - 1.0 <= here.percentile <= there.high + 1.0
            assert there.error == pytest.approx(here.error)
    assert compared > 25


def test_what_was_exported_with_the_edition_places_the_swing_as_at_home(both):
    own, foreign = both
    assert foreign.map.overall_cm == pytest.approx(own.map.overall_cm)
    assert foreign.map.index == pytest.approx(own.map.index)
    assert foreign.typicality == replace(
        own.typicality, overall_cm=pytest.approx(own.typicality.overall_cm)
    )
    assert foreign.pattern == own.pattern
    assert foreign.nearest == own.nearest
    assert foreign.placement.by_handicap == own.placement.by_handicap
    assert foreign.look_alikes.withheld is not None
    assert foreign.findings == ()


def test_both_pages_say_whose_norms_these_are(both):
    foreign = both[1]
    for page in (sheet_page(foreign), placement_page(foreign.placement)):
        assert "of another academy" in page
        assert "Not verified on golfers of our own" in page
        assert "measures as they do is not known" in page
    assert re.search(r"at the \d+(st|nd|rd|th)\s+percentile of \d+", sheet_page(foreign))
    assert "not judged" in sheet_page(foreign)
    before, _, after = sheet_page(foreign).partition("Not verified on golfers of our own")
    assert "The three curves" not in before  # it stands before anything is shown
    assert "Not verified" not in after
    assert "not judged" not in sheet_page(both[0])


def test_a_roster_is_placed_and_progress_refused(academy, elsewhere, tmp_path):
    """The same swings in a store whose own editions are another academy's."""
    with open_store(academy.store) as store:
        export_edition(store, "spring", tmp_path / "export")
        import_edition(store, tmp_path / "export", "borrowed")
        own = dict(place_roster(store, "spring", club="driver"))
        borrowed = dict(place_roster(store, "borrowed", club="driver"))
        patterns_page(store.edition("borrowed"))
        with pytest.raises(CohortRefused, match=r"came without its golfers.*norms build"):
            track_progress(store, next(iter(own)), "borrowed", club="driver")
    assert own.keys() == borrowed.keys()
    for golfer, place in borrowed.items():
        assert place.placement.cohort_key == own[golfer].placement.cohort_key
        assert place.placement.imported
