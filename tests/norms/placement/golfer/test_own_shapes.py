"""Of single golfers' shapes nothing goes out with an edition, and nothing is lost at home."""

from dataclasses import replace

import numpy as np
import pytest

from norms.cohort.frozen_shapes import frozen_shapes
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.own_shapes import (
    OWN_SHAPES,
    OwnShapes,
    memberships_of,
    strangeness_of,
    typicality_of,
    with_history,
    without_own,
)
from norms.cohort.pattern_annexes import with_shapes
from norms.cohort.pattern_search import PatternChoices
from norms.cohort.roll import call_roll
from norms.placement.pattern_names import plain_name
from norms.records.plain import take_apart


def test_no_column_of_an_annex_is_a_golfer(ground):
    shapes = frozen_shapes(ground.edition)
    for patterns in shapes.patterns.values():
        assert len(patterns.memberships) == 0
        assert (np.diff(patterns.strangeness, axis=1) >= 0).all()
    for typicality in shapes.typicality.values():
        assert (np.diff(typicality.overall_cm, axis=1) >= 0).all()


def test_at_home_every_golfers_own_values_are_known_and_among_the_rising_ones(ground):
    edition, golfers = ground.edition, ground.edition.cell("driver/all").cohort.golfers
    shapes = frozen_shapes(edition)
    assert set(memberships_of(edition, "driver")) == set(golfers)
    for code in golfers:
        assert np.sum(memberships_of(edition, "driver")[code]) == pytest.approx(1.0)
        for row, own in enumerate(strangeness_of(edition, "driver", code)):
            assert own in shapes.patterns["driver"].strangeness[row]
        for row, own in enumerate(typicality_of(edition, "driver/all", code)):
            assert own in shapes.typicality["driver/all"].overall_cm[row]
    assert strangeness_of(edition, "driver", "Q9999") is None


def test_leaving_out_takes_one_value_and_only_ones_own():
    values = np.array([1.0, 2.0, 2.0, 5.0])
    np.testing.assert_array_equal(without_own(values, 2.0), [1.0, 2.0, 5.0])
    np.testing.assert_array_equal(without_own(values, 3.0), values)
    np.testing.assert_array_equal(without_own(values, None), values)


def test_an_edition_from_before_is_read_in_the_order_of_its_golfers(ground):
    edition, golfers = ground.edition, ground.edition.cell("driver/all").cohort.golfers
    shapes = frozen_shapes(edition)
    patterns = replace(
        shapes.patterns["driver"],
        memberships=np.array([memberships_of(edition, "driver")[code] for code in golfers]),
        strangeness=np.array([strangeness_of(edition, "driver", code) for code in golfers]).T,
    )
    document, arrays = take_apart(patterns)
    annexes = tuple(
        replace(annex, document=document, arrays=arrays) if annex.kind == "patterns" else annex
        for annex in edition.annexes
    )
    evidence = {kind: said for kind, said in edition.evidence.items() if kind != OWN_SHAPES}
    before = replace(edition, annexes=annexes, evidence=evidence)
    for code in (golfers[0], golfers[-1]):
        assert list(memberships_of(before, "driver")[code]) == list(
            memberships_of(edition, "driver")[code]
        )
        assert list(strangeness_of(before, "driver", code)) == list(
            strangeness_of(edition, "driver", code)
        )


def test_what_came_before_is_no_part_of_the_hash_and_is_told_at_home(ground):
    edition = ground.edition
    bare = replace(
        edition,
        annexes=tuple(
            one
            for one in edition.annexes
            if one.kind not in ("components", "patterns", "typicality")
        ),
    )
    roll = call_roll(ground.pool, ground.roster, DEFAULT_LEVELS)
    handicaps = {"driver": {code: who.handicaps[0].index for code, who in ground.roster.items()}}
    choices = PatternChoices(most=3, simulations=9, resamples=5, starts=3)
    again = with_shapes(
        replace(bare, name="autumn"), roll, handicaps, plain_name, choices, previous=edition
    )
    assert again.content_hash == edition.content_hash


def test_history_is_taken_off_and_put_back(ground):
    club = ground.edition.cell("driver/all").cohort
    golfers = len(club.golfers)
    patterns = replace(
        frozen_shapes(ground.edition).patterns["driver"],
        memberships=np.ones((golfers, 1)),
        strangeness=np.ones((2, golfers)),
        matched="spring",
        changes=("P2 is new.",),
    )
    own = OwnShapes()
    bare = own.without_golfers(club, patterns)
    assert (bare.matched, bare.changes) == (None, ())
    kept = replace(ground.edition, evidence={OWN_SHAPES: own.evidence()})
    assert with_history(kept, bare).matched == "spring"
    assert with_history(kept, bare).changes == ("P2 is new.",)
