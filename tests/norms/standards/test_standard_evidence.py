"""Limits are read off the edition; what the evidence does not bear is refused with the figures."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from norms.records import CohortDefinition
from norms.standards.asked import CAUTIONS, RangeAsked, RequirementAsked
from norms.standards.quantities import (
    feature_quantity,
    planned_error,
    quantity_errors,
    stretch_quantity,
)
from norms.standards.resolve import resolve
from norms.standards.review_plan import MOST_SWINGS
from norms.standards.validate import below_floor, check_standard, swings_needed
from norms.statistics.quantiles import quantiles
from norms.vocabulary import NODES

TRAVEL = feature_quantity("sway_travel")


def asking(quantity=TRAVEL, **ends):
    return (RequirementAsked(quantity=quantity, range=RangeAsked(**ends)),)


def refusals(asked, edition):
    standard, findings = resolve(asked, edition)
    assert standard is None
    assert {one.severity for one in findings} == {"refused"}
    return findings


def found(standard, academy, errors=None):
    errors = errors or quantity_errors(
        academy.noise, [one.quantity for one in standard.requirements]
    )
    return {one.code: one for one in check_standard(standard, academy.edition, errors)}


def test_percentiles_are_those_of_the_golfers_of_the_evidence(academy, standard_of):
    standard = standard_of(requirements=asking(low_percentile=10, high_percentile=90))
    members = academy.edition.cell("driver/to_12").cohort
    low, high = quantiles(members.features[:, :1], [10, 90])[:, 0]
    (one,) = standard.requirements
    assert (one.low, one.high) == (low, high)
    assert one.norm.golfers == len(members.golfers) == 80
    assert one.norm.percents == (5.0, 95.0)
    assert standard.edition_hash == academy.edition.content_hash


def test_a_stretch_is_the_mean_of_its_nodes(academy, standard_of):
    lift = stretch_quantity("lift", "top", "downswing 50")
    standard = standard_of(requirements=asking(lift, low_percentile=25, high_percentile=75))
    curves = academy.edition.cell("driver/to_12").cohort.curves_cm
    low, high = quantiles(curves[:, 2, 100:151].mean(axis=1)[:, None], [25, 75])[:, 0]
    assert standard.requirements[0].low == pytest.approx(low, rel=1e-12)
    assert standard.requirements[0].high == pytest.approx(high, rel=1e-12)
    assert standard.requirements[0].quantity.key == "lift@100-150"


def test_one_side_may_stay_open(standard_of):
    (one,) = standard_of(requirements=asking(low_percentile=25)).requirements
    assert one.high is None
    assert one.ends[1] == np.inf


def test_the_norm_is_kept_beside_a_target_that_differs_from_it(standard_of):
    (one,) = standard_of(requirements=asking(low=9.0, high=12.0, reason="taught so")).requirements
    assert (one.low, one.high) == (9.0, 12.0)
    assert one.norm.low < 9.0 < 12.0 < one.norm.high


def test_cautions_of_every_sheet_are_there_once_whatever_the_file_says(standard_of):
    standard = standard_of(cautions=("Own words.", CAUTIONS[0]))
    assert standard.cautions == ("Own words.", *CAUTIONS)
    joined = " ".join(standard.cautions)
    assert all(word in joined for word in ("physician", "juniors", "coach", "back"))


def test_for_whom_is_the_evidence_without_its_days_and_labs(academy, standard_of):
    standard = standard_of()
    assert [level.key for level in standard.golfers.levels] == ["to_12"]
    assert standard.golfers.recorded_from is None
    assert standard.golfers.labs == ()


@pytest.mark.parametrize(
    ("ends", "code", "figure"),
    [
        ({}, "range", "nothing"),
        ({"low": 1.0, "low_percentile": 10}, "range", "low and high and low_percentile"),
        ({"low": 9.0, "high": 12.0}, "no_reason", "reason"),
        ({"low": 9.0, "high": 12.0, "reason": "  "}, "no_reason", "reason"),
        ({"low": 12.0, "high": 9.0, "reason": "x"}, "range", "from 12 to 9"),
        ({"low_percentile": 90, "high_percentile": 10}, "range", "empty"),
        ({"low_percentile": 1}, "cell_too_small", "80 golfers and needs 299"),
        ({"low_percentile": 0}, "percentile", "between 0 and 100"),
        ({"low_centile": 10, "at_handicap": 8.0}, "centile", "no centiles by handicap"),
        ({"low_centile": 10}, "centile", "at_handicap"),
    ],
)
def test_a_range_that_cannot_be_set_is_refused_with_the_figure(
    academy, asked_of, ends, code, figure
):
    (one,) = refusals(asked_of(requirements=asking(**ends)), academy.edition)
    assert one.code == code
    assert figure in one.message
    assert one.requirement == 0


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"evidence": "driver/to_36"}, "evidence_withheld"),
        ({"evidence": "putter/all"}, "evidence"),
        ({"edition_hash": "0" * 64}, "other_edition"),
        ({"wrong_rate": 0.0}, "wrong_rate"),
        ({"wrong_rate": 0.3}, "wrong_rate"),
        ({"days": 6, "swings": 5}, "plan"),
        ({"requirements": ()}, "empty"),
        (
            {"golfers": CohortDefinition(key="x", name="x", club="driver", age_from=9, age_to=5)},
            "definition",
        ),
    ],
)
def test_a_whole_that_cannot_stand_is_refused(academy, asked_of, facts, code):
    (one,) = refusals(asked_of(**facts), academy.edition)
    assert one.code == code


def test_every_fault_is_told_at_once(academy, asked_of):
    broken = (*asking(low=9.0, high=12.0), *asking(low_percentile=1))
    codes = [one.code for one in refusals(asked_of(requirements=broken), academy.edition)]
    assert codes == ["asked_twice", "no_reason", "cell_too_small"]


def test_range_outside_the_evidence_is_refused_and_beyond_it_is_warned_of(
    academy, standard_of, ranges
):
    outside = found(standard_of(requirements=ranges(sway_travel=(30.0, 40.0))), academy)
    assert outside["outside_evidence"].severity == "refused"
    assert "80 golfers" in outside["outside_evidence"].message
    assert outside["outside_evidence"].key == "low"
    beyond = found(standard_of(requirements=ranges(sway_travel=(9.0, 40.0))), academy)
    assert beyond["beyond_evidence"].severity == "warning"
    assert beyond["beyond_evidence"].key == "high"
    assert "outside_evidence" not in beyond


def test_range_that_no_golfer_could_be_told_to_meet_is_refused_with_the_swings_it_takes(
    academy, standard_of, ranges
):
    errors = quantity_errors(academy.noise, [TRAVEL])
    width = 2.0 * 1.6448536 * float(planned_error(errors, 5, 1)[0])
    narrow = standard_of(requirements=ranges(sway_travel=(10.0, 10.0 + width - 0.01)))
    refused = found(narrow, academy)["not_measurable"]
    assert refused.severity == "refused"
    needed = swings_needed(narrow, errors, 0)
    assert needed == 6
    assert "6 swings would do" in refused.message
    wider = standard_of(requirements=ranges(sway_travel=(10.0, 10.0 + width + 0.01)))
    assert "not_measurable" not in found(wider, academy)


def test_no_number_of_swings_makes_up_for_the_day(academy, standard_of, ranges):
    narrow = standard_of(requirements=ranges(sway_travel=(10.0, 10.5)))
    message = found(narrow, academy)["not_measurable"].message
    assert f"not even {MOST_SWINGS} swings would do" in message


def test_range_narrower_than_the_smallest_change_is_warned_of(academy, standard_of, ranges):
    one_swing = {"swings": 1, "days": 1, "wrong_rate": 0.2}
    standard = standard_of(requirements=ranges(sway_travel=(10.0, 12.0)), **one_swing)
    assert found(standard, academy)["change_hidden"].severity == "warning"


def test_golfers_less_apart_than_swings_are_warned_of(academy, standard_of):
    standard = standard_of()
    errors = quantity_errors(academy.noise, [one.quantity for one in standard.requirements])
    assert "individuality" not in found(standard, academy, errors)
    alike = replace(errors, individuality=np.array([1.5, 0.4]))
    warned = found(standard, academy, alike)["individuality"]
    assert warned.requirement == 0
    assert "1.5" in warned.message


def test_unknown_error_is_refused_and_unknown_day_is_warned_of(academy, standard_of):
    standard = standard_of()
    errors = quantity_errors(academy.noise, [one.quantity for one in standard.requirements])
    no_budget = check_standard(standard, academy.edition, None)
    assert [one.code for one in no_budget].count("error_unknown") == 2
    no_day = replace(errors, day_sd=np.full(2, np.nan))
    assert found(standard, academy, no_day)["day_unknown"].severity == "warning"


def test_below_the_floor_is_warned_of_with_the_count(small_academy, academy, standard_of):
    short = below_floor(standard_of(academy=small_academy), small_academy.edition)
    assert "rests on 40" in short
    assert "60" in short
    assert below_floor(standard_of(), academy.edition) is None


def test_narrower_group_than_the_evidence_is_warned_of(academy, standard_of):
    juniors = CohortDefinition(key="j", name="j", club="driver", age_to=17)
    assert "other_golfers" in found(standard_of(golfers=juniors), academy)
    assert "other_golfers" not in found(standard_of(), academy)


def test_stretch_error_is_never_below_that_of_its_mean(academy):
    """Against the error of the stretch's own mean, from swings within a golfer's day."""
    stretch = stretch_quantity("thrust", "downswing 10", "downswing 90")
    errors = quantity_errors(academy.noise, [stretch])
    means = academy.pool.curves_cm[:, 1, 110:191].mean(axis=1).reshape(-1, 3)
    pooled = np.sqrt(means.var(axis=1, ddof=1).mean())
    assert errors.swing_sd[0] >= pooled * 0.999
    assert errors.swing_sd[0] == pytest.approx(pooled, rel=0.02)


@pytest.mark.parametrize(
    ("point", "node"),
    [("start", 0), ("top", 100), ("downswing 0", 100), ("follow-through 100", NODES - 1),
     ("follow_through 5", 205)],
)  # fmt: skip
def test_points_of_the_phase_axis(point, node):
    from norms.standards.quantities import phase_node

    assert phase_node(point) == node


@pytest.mark.parametrize("point", ["", "middle", "downswing", "downswing 101", "downswing -1"])
def test_other_points_are_refused(point):
    from norms.errors import StandardRefused
    from norms.standards.quantities import phase_node

    with pytest.raises(StandardRefused, match="is no point of a swing"):
        phase_node(point)


def test_review_date_is_kept(standard_of):
    assert standard_of(review_on=date(2028, 1, 2)).review_on == date(2028, 1, 2)
