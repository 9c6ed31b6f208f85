"""A swing of a lab unknown to the norms is placed with a warning; of another lab, in its terms."""

import dataclasses

import numpy as np
import pytest

from norms.cohort.annex_contents import lab_terms_in
from pipelines.build_edition import build_edition
from pipelines.edition_terms import in_edition_terms


def shifted(values, lab, day):
    return values + 4.0 * (lab == "Range hut")


@pytest.fixture(scope="module")
def built(lab_store):
    store = lab_store(change=shifted, golfers=60, second_lab=60)
    return store, build_edition(store, "two labs")


def of_lab(store, lab):
    return next(store.swing(one.swing) for one in store.swing_qualities() if one.lab == lab)


def test_a_swing_of_the_reference_lab_stays_as_it_is(built):
    store, edition = built
    swing = of_lab(store, "North bay")
    assert in_edition_terms(edition, swing) == (swing, ())


def test_a_swing_of_the_other_lab_loses_that_labs_shift_and_the_reader_is_told(built):
    store, edition = built
    swing = of_lab(store, "Range hut")
    placed, (caution, *_) = in_edition_terms(edition, swing)
    (terms,) = lab_terms_in(edition)
    for name, verdict in zip(terms.effect.feature_names, terms.effect.verdicts, strict=True):
        if verdict == "adjust_shift":
            moved = swing.features.values[name] - placed.features.values[name]
            assert moved == pytest.approx(4.0, abs=0.6)
        elif verdict == "apart":
            assert "kept apart" in placed.features.missing[name]
    drop = swing.curve.values_cm[:, -1] - placed.curve.values_cm[:, -1]
    np.testing.assert_allclose(drop, 4.0, atol=0.6)
    assert "Measured in Range hut and put in the terms of North bay" in caution


def test_a_swing_of_a_lab_never_seen_keeps_its_values_and_carries_a_warning(built):
    store, edition = built
    swing = of_lab(store, "North bay")
    elsewhere = dataclasses.replace(swing, label=dataclasses.replace(swing.label, lab="Far shed"))
    placed, (caution,) = in_edition_terms(edition, elsewhere)
    assert placed is elsewhere
    assert caution.startswith("The lab Far shed has no part in these norms")
    assert "North bay and Range hut" in caution


def test_an_edition_from_before_labs_were_kept_says_nothing(built):
    store, edition = built
    swing = of_lab(store, "Range hut")
    older = dataclasses.replace(edition, parameters={})
    assert in_edition_terms(older, swing) == (swing, ())
