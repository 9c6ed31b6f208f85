import numpy as np
import pytest
from scipy import stats

from norms.statistics.power import smallest_detectable
from norms.statistics.sensitivity import e_value_of_difference, e_value_of_ratio


def power_of_t_test(effect, standard_error, freedom, level):
    """Exact power of a two-sided t test, from the noncentral t distribution."""
    critical, shift = stats.t.ppf(1 - level / 2, freedom), effect / standard_error
    above = stats.nct.sf(critical, freedom, shift)
    return float(above + stats.nct.cdf(-critical, freedom, shift))


@pytest.mark.parametrize("freedom", [10, 30, 100, 1000])
@pytest.mark.parametrize("power", [0.8, 0.9])
def test_the_smallest_detectable_effect_has_the_power_asked_for(freedom, power):
    effect = float(smallest_detectable(0.3, freedom, power=power))
    assert power_of_t_test(effect, 0.3, freedom, 0.05) == pytest.approx(power, abs=0.015)


def test_with_many_golfers_it_is_two_point_eight_standard_errors():
    # z(0.975) + z(0.80) = 1.959964 + 0.841621
    assert float(smallest_detectable(1.0, 1e9)) == pytest.approx(2.801585, abs=1e-5)


def test_e_values_of_the_paper():
    # VanderWeele and Ding (2017), Ann. Intern. Med. 167:268: RR 3.9 (limit 1.8) gives 7.26 (3.0).
    assert e_value_of_ratio(3.9) == pytest.approx(7.26, abs=0.005)
    assert e_value_of_ratio(1.8) == pytest.approx(3.0, abs=1e-9)
    assert e_value_of_ratio(1 / 3.9) == pytest.approx(7.26, abs=0.005)
    assert e_value_of_ratio(1.0) == 1.0


def test_e_value_of_a_difference_goes_by_its_approximate_ratio():
    found = e_value_of_difference(0.5, 0.1)
    assert found.estimate == pytest.approx(e_value_of_ratio(np.exp(0.91 * 0.5)))
    assert found.limit == pytest.approx(e_value_of_ratio(np.exp(0.91 * 0.5 - 1.78 * 0.1)))
    assert e_value_of_difference(-0.5, 0.1) == found


def test_an_interval_that_holds_no_effect_needs_no_confounder():
    assert e_value_of_difference(0.1, 0.1).limit == 1.0
