"""Limits read off centiles at a handicap, as the edition's own centiles give them."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from norms.cohort.annex_contents import club_centiles
from norms.cohort.centiles import centile_chart
from norms.cohort.club_centiles import centile_rows, fit_club_centiles
from norms.records import CentilePlan, DatedHandicap
from norms.records.annex import Annex
from norms.records.plain import take_apart
from norms.standards.asked import RangeAsked, RequirementAsked
from norms.standards.quantities import feature_quantity, stretch_quantity
from norms.standards.resolve import resolve

TRAVEL, THRUST = feature_quantity("sway_travel"), feature_quantity("thrust_impact")


@pytest.fixture(scope="module")
def edition(academy):
    """The academy's golfers spread over handicap; forward travel is 5 cm more in women."""
    spread = np.linspace(1.0, 19.0, len(academy.golfers))
    golfers = {
        code: replace(
            golfer, handicaps=(DatedHandicap(since=date(2025, 1, 1), index=float(index)),)
        )
        for (code, golfer), index in zip(academy.golfers.items(), spread, strict=True)
    }
    cohort = academy.edition.cell("driver/all").cohort
    features = cohort.features.copy()
    features[:, 0] += [5.0 * (golfers[code].sex == "female") for code in cohort.golfers]
    handicaps = {code: golfer.handicaps[0].index for code, golfer in golfers.items()}
    rows = centile_rows(cohort, handicaps, golfers, date(2026, 5, 8))
    fitted = fit_club_centiles(replace(cohort, features=features), rows, CentilePlan())
    document, arrays = take_apart(fitted)
    annex = Annex(kind="centiles", subject="driver", document=document, arrays=arrays)
    return replace(academy.edition, annexes=(annex,))


@pytest.fixture
def limits(edition, asked_of):
    def read(quantity, **ends):
        asked = RequirementAsked(quantity=quantity, range=RangeAsked(**ends))
        standard, faults = resolve(asked_of(requirements=(asked,)), edition)
        return standard.requirements[0] if standard else faults[0]

    return read


def test_limits_are_the_centiles_at_that_handicap(edition, limits):
    one = limits(THRUST, low_centile=10, high_centile=90, at_handicap=9.0)
    fitted = club_centiles(edition)["driver"].features["thrust_impact"]
    chart = centile_chart(fitted, [9.0], percents=[10.0, 90.0])
    assert (one.low, one.high) == tuple(chart.value[0, :, 0])
    assert (one.set_by, one.at_handicap) == ("centiles", 9.0)
    assert one.norm.golfers == 80


def test_one_side_may_stay_open(limits):
    one = limits(THRUST, high_centile=75, at_handicap=9.0)
    assert (one.low, one.high_percent) == (None, 75)


def test_centiles_that_depend_on_sex_ask_for_it_and_use_it(limits):
    asked = {"low_centile": 10, "high_centile": 90, "at_handicap": 9.0}
    refused = limits(TRAVEL, **asked)
    assert "depend on sex" in refused.message
    women, men = limits(TRAVEL, sex="female", **asked), limits(TRAVEL, sex="male", **asked)
    assert women.low - men.low == pytest.approx(5.0, abs=1.0)


@pytest.mark.parametrize(
    ("quantity", "handicap", "words"),
    [
        (THRUST, 40.0, "no centile at handicap 40"),
        (stretch_quantity("lift", "top", "impact"), 9.0, "no centiles by handicap"),
    ],
)
def test_what_the_centiles_do_not_give_is_refused(limits, quantity, handicap, words):
    refused = limits(quantity, low_centile=10, at_handicap=handicap)
    assert refused.code == "centile"
    assert words in refused.message
