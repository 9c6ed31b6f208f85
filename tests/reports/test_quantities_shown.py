import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.quantities import check_unit, digits, handicap_words, middle_share, number, quantity

reals = st.floats(-1e4, 1e4)


@given(reals, st.integers(0, 3))
def test_a_number_shown_is_the_number_rounded(value, decimals):
    shown = number(value, decimals)
    assert abs(float(shown.replace("−", "-")) - value) <= 0.5 * 10**-decimals + 1e-9
    assert "-" not in shown


@given(st.floats(-0.049, 0.049))
def test_what_rounds_to_zero_has_no_sign(value):
    assert number(value, 1) == "0.0"


@pytest.mark.parametrize(
    ("value", "kind", "unit", "shown"),
    [
        (10.4, "cm", "in", "4.1 in"),
        (-5.1, "cm", "in", "−2.0 in"),
        (-5.1, "cm", "cm", "−5.1 cm"),
        (100.0, "cm_s", "in", "39 in/s"),
        (0.084, "s", "in", "0.08 s"),
        (61.6, "pct", "cm", "62 %"),
        (3.125, "ratio", "cm", "3.12"),
    ],
)
def test_quantities_carry_the_readers_unit(value, kind, unit, shown):
    assert quantity(value, kind, unit) == shown


@given(reals)
def test_times_and_shares_do_not_depend_on_the_unit_of_length(value):
    for kind in ("s", "pct", "ratio"):
        assert digits(value, kind, "in") == digits(value, kind, "cm")


def test_plus_handicaps_are_written_as_golfers_write_them():
    assert [handicap_words(h) for h in (-2.4, 0.0, 12.4, None)] == ["+2.4", "0.0", "12.4", "none"]


def test_the_range_is_named_by_its_share():
    assert middle_share((10.0, 90.0)) == "middle 80 %"


def test_an_unknown_unit_is_refused():
    with pytest.raises(ValueError, match="furlong"):
        check_unit("furlong")
