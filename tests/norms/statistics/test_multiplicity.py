import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.statistics.multiplicity import adjust_p_values

REFERENCE = Path(__file__).parents[2] / "reference" / "p_adjust" / "padjust.json"
CASES = json.loads(REFERENCE.read_text())["cases"]
NAMES = {"benjamini_hochberg": "BH", "holm": "holm", "bonferroni": "bonferroni"}

# Benjamini and Hochberg (1995), J. R. Stat. Soc. B 57:289, section 3.2.
BENJAMINI = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344]
BENJAMINI += [0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0]


@pytest.mark.parametrize("method", NAMES)
@pytest.mark.parametrize("case", CASES, ids=[case["id"] for case in CASES])
def test_adjusted_p_values_equal_those_of_r(case, method):
    p = np.array(case["p"], dtype=float)  # null becomes NaN
    expected = np.array(case["expected"][NAMES[method]], dtype=float)
    adjusted = adjust_p_values(p, method, family_size=case.get("n"))
    np.testing.assert_allclose(adjusted, expected, atol=1e-12)


@pytest.mark.parametrize(
    ("method", "found"), [("benjamini_hochberg", 4), ("holm", 3), ("bonferroni", 3)]
)
def test_published_example_finds_the_published_number(method, found):
    assert (adjust_p_values(BENJAMINI, method) <= 0.05).sum() == found


@given(st.lists(st.floats(0, 1), min_size=1, max_size=20), st.sampled_from(sorted(NAMES)))
def test_adjustment_never_lowers_a_p_value_and_keeps_their_order(p, method):
    adjusted = adjust_p_values(p, method)
    assert (adjusted >= np.array(p) - 1e-15).all()
    assert (np.diff(adjusted[np.argsort(p, kind="stable")]) >= 0).all()


def test_impossible_p_values_and_families_are_refused():
    with pytest.raises(ValueError, match="between 0 and 1"):
        adjust_p_values([0.5, 1.5], "holm")
    with pytest.raises(ValueError, match="family_size"):
        adjust_p_values([0.5, 0.1], "holm", family_size=1)
