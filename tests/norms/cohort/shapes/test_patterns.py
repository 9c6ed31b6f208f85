import numpy as np
import pytest

from norms.cohort.frozen_shapes import mixture_of
from norms.cohort.patterns import find_patterns
from norms.placement.pattern_names import SIDES, plain_name
from norms.records.patterns import PatternFeature, Patterns
from norms.records.plain import put_together, take_apart
from norms.swing.catalogue import FEATURE_NAMES


@pytest.fixture(scope="module")
def found(four_patterns, quick_choices) -> Patterns:
    club = four_patterns
    return find_patterns(club.cohort, club.swings, club.components, quick_choices, plain_name)


def test_four_patterns_well_apart_are_found(found, four_patterns):
    from sklearn.metrics import adjusted_rand_score

    assert len(found.found) == 4
    labels = found.memberships.argmax(axis=1)
    assert adjusted_rand_score(four_patterns.drawn.pattern, labels) >= 0.9
    assert all(pattern.stability >= 0.75 for pattern in found.found)
    assert sum(pattern.golfers for pattern in found.found) == found.golfers


def test_one_cloud_is_an_answer(one_cloud, quick_choices):
    club = one_cloud
    patterns = find_patterns(club.cohort, club.swings, club.components, quick_choices, plain_name)
    assert patterns.found == ()
    assert patterns.reason.startswith("One cloud, no types")
    assert len(patterns.weights) == 1
    np.testing.assert_allclose(patterns.memberships, 1.0)


def test_one_cloud_stands_first_among_the_numbers_tried(found):
    first, *others = found.counts
    assert (first.patterns, first.smallest) == (1, found.golfers)
    assert [count.patterns for count in others] == list(range(2, 2 + len(others)))
    assert first.bic > min(count.bic for count in others)


def test_a_pattern_knows_its_middle_golfer_and_features(found, four_patterns):
    labels = found.memberships.argmax(axis=1)
    for place, pattern in enumerate(found.found):
        assert labels[pattern.medoid] == place
        assert pattern.share_low <= pattern.share <= pattern.share_high
        spreads = [abs(one.spreads) for one in pattern.features]
        assert spreads == sorted(spreads, reverse=True)
        assert pattern.name == plain_name(pattern.features)
    assert len({pattern.name for pattern in found.found}) == 4


@pytest.mark.parametrize(
    ("features", "name"),
    [
        # more sitting back is a more negative number
        ([("thrust_sit_back", -1.0), ("thrust_impact", -1.0), ("lift_impact", -1.0)],
         "sits back farther and lower at impact"),
        ([("path_length", 5.0), ("sway_travel", 2.0), ("sway_rate_max", 9.0)],
         "more forward travel"),
        ([("tempo", -0.3)], "lower tempo"),
        ([], "like the rest"),
    ],
)  # fmt: skip
def test_a_pattern_is_named_for_its_moves_in_plain_directions(features, name):
    told = [PatternFeature(feature=f, difference=by, spreads=by) for f, by in features]
    assert plain_name(told) == name


def test_every_feature_has_words_for_both_sides():
    assert set(SIDES) == set(FEATURE_NAMES)
    words = [word for pair in SIDES.values() for word in pair]
    assert len(set(words)) == len(words)


def test_swings_of_one_golfer_agree(found):
    assert found.agreement > 0.9
    assert 0.2 < found.agreement_by_chance < 0.35


def test_keys_and_names_survive_a_rebuild(found, four_patterns, quick_choices):
    club = four_patterns
    again = find_patterns(
        club.cohort, club.swings, club.components, quick_choices, plain_name,
        previous=("spring", club.components, found),
    )  # fmt: skip
    assert {p.key for p in again.found} == {p.key for p in found.found}
    by_key = {p.key: p for p in found.found}
    for pattern in again.found:
        assert pattern.name == by_key[pattern.key].name
        assert pattern.medoid == by_key[pattern.key].medoid
    assert again.matched == "spring"
    assert again.changes[0].startswith("0 of 100 golfers")


def test_a_name_given_in_an_earlier_edition_stays(found, four_patterns, quick_choices):
    from dataclasses import replace

    club = four_patterns
    first, *rest = found.found
    earlier = replace(found, found=(replace(first, key="P9", name="the old name"), *rest))
    again = find_patterns(
        club.cohort, club.swings, club.components, quick_choices, plain_name,
        previous=("spring", club.components, earlier),
    )  # fmt: skip
    assert "the old name" in {p.name for p in again.found if p.key == "P9"}


def test_frozen_mixture_gives_the_same_memberships(found, four_patterns):
    club = four_patterns
    document, arrays = take_apart(found)
    kept = put_together(Patterns, document, arrays)
    scores = club.components.scores(club.cohort.curves_cm)
    levels = np.array([club.swings.levels[club.swings.golfer == i][0] for i in range(kept.golfers)])
    shifts = np.array([club.components.level_shift(level) for level in levels])
    np.testing.assert_allclose(
        mixture_of(kept).memberships(scores - shifts), found.memberships, atol=1e-9
    )


def test_same_seed_same_patterns(found, four_patterns, quick_choices):
    club = four_patterns
    again = find_patterns(club.cohort, club.swings, club.components, quick_choices, plain_name)
    np.testing.assert_array_equal(again.memberships, found.memberships)
    np.testing.assert_array_equal(again.strangeness, found.strangeness)
