import numpy as np
import pytest

from norms.cohort.annex_contents import club_centiles
from norms.cohort.centiles import centile_chart, place_by_handicap
from norms.cohort.fit_centiles import fit_feature_centiles
from norms.cohort.value_reading import read_value, reading_document
from norms.errors import CohortRefused
from norms.records.centiles import CentilePlan
from norms.records.club_centiles import ClubCentiles


@pytest.fixture(scope="module")
def edition(small_academy):
    return small_academy.edition


@pytest.fixture(scope="module")
def plain(edition):
    """A feature of the driver whose centiles need neither sex nor age."""
    features = club_centiles(edition)["driver"].features
    return next(one for one in features.values() if not one.covariate_names)


def test_the_median_at_a_handicap_is_read_back_as_that_handicap(edition, plain):
    chart = centile_chart(plain, [14.0], percents=[50.0])
    told = read_value(edition, "driver", plain.names[0], float(chart.value[0, 0, 0]))
    met = min(told.medians, key=lambda one: abs(one.handicap - 14.0))
    assert met.handicap == pytest.approx(14.0, abs=1e-3)
    assert met.low <= 14.0 <= met.high
    assert told.place is None


def test_a_value_is_placed_at_a_handicap_as_a_swing_would_be(edition, plain):
    value = float(centile_chart(plain, [14.0], percents=[50.0]).value[0, 0, 0])
    told = read_value(edition, "driver", plain.names[0], value, handicap=14.0)
    assert told.place == place_by_handicap(plain, value, 14.0)
    assert told.place.percentile == pytest.approx(50.0, abs=0.01)
    assert reading_document(told)["place"]["golfers"] == told.place.golfers


def test_a_value_no_median_has_is_answered_with_the_medians_there_are(edition, plain):
    told = read_value(edition, "driver", plain.names[0], 1e6)
    assert told.medians == ()
    grid = np.arange(told.handicap_low, told.handicap_high + 0.1, 0.5)
    medians = centile_chart(plain, grid, percents=[50.0]).value
    assert told.median_low == pytest.approx(np.nanmin(medians))
    assert told.median_high == pytest.approx(np.nanmax(medians))


@pytest.mark.parametrize(
    ("club", "feature", "said"),
    [("putter", "tempo", "it has them for driver"), ("driver", "hope", "there are those of")],
)
def test_a_club_or_feature_without_centiles_is_refused_naming_those_with(
    edition, club, feature, said
):
    with pytest.raises(CohortRefused, match=said):
        read_value(edition, club, feature, 1.0)


def test_sex_is_asked_for_where_the_centiles_depend_on_it(edition, monkeypatch):
    rng = np.random.default_rng(5)
    handicaps, female = rng.uniform(0, 30, 400), rng.integers(0, 2, 400).astype(float)
    values = 0.2 * handicaps + 3.0 * female + rng.normal(size=400)
    features, _ = fit_feature_centiles(
        values[:, None],
        ["tempo"],
        handicaps,
        covariates=female[:, None],
        covariate_names=["female"],
    )
    found = ClubCentiles(
        club="driver",
        cohort_key="driver/all",
        golfers=400,
        without_handicap=0,
        plan=CentilePlan(),
        features=features,
    )
    monkeypatch.setattr(
        "norms.cohort.value_reading.club_centiles", lambda edition: {"driver": found}
    )
    with pytest.raises(CohortRefused, match="depend on sex: state it"):
        read_value(edition, "driver", "tempo", 5.0)
    (men,) = read_value(edition, "driver", "tempo", 5.0, female=False).medians
    (women,) = read_value(edition, "driver", "tempo", 5.0, female=True).medians
    assert men.handicap == pytest.approx(25.0, abs=1.5)
    assert women.handicap == pytest.approx(10.0, abs=1.5)


def test_a_value_that_is_no_number_is_refused(edition, plain):
    with pytest.raises(CohortRefused, match="finite"):
        read_value(edition, "driver", plain.names[0], float("nan"))
