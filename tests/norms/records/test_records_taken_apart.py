import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from norms.records import WholeCurveBands
from norms.records.annex import Annex
from norms.records.plain import put_together, take_apart
from norms.vocabulary import NODES

FLOATS = st.floats(allow_nan=True, allow_infinity=True)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inner:
    name: str
    values: np.ndarray
    missing: np.ndarray | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outer:
    number: float
    count: int
    yes: bool
    day: date
    pair: tuple[float, int]
    absent: float | None
    words: tuple[str, ...]
    inner: Inner
    several: tuple[Inner, ...]
    by_name: Mapping[str, Inner] = field(default_factory=dict)


def inner(values):
    return Inner(name="a", values=values)


def same(first, second):
    assert (first.name, first.missing) == (second.name, second.missing)
    np.testing.assert_array_equal(first.values, second.values)


@given(
    number=FLOATS,
    pair=st.tuples(FLOATS, st.integers(-(2**60), 2**60)),
    values=arrays(float, array_shapes(max_dims=3, min_side=0), elements=FLOATS),
    day=st.dates(),
)
def test_a_record_comes_back_exactly_through_json(number, pair, values, day):
    record = Outer(
        number=number,
        count=3,
        yes=True,
        day=day,
        pair=pair,
        absent=None,
        words=("é", '"'),
        inner=inner(values),
        several=(inner(values), inner(values + 1.0)),
        by_name={"x": inner(values)},
    )
    document, taken = take_apart(record)
    back = put_together(Outer, json.loads(json.dumps(document, allow_nan=False)), taken)
    np.testing.assert_array_equal([back.number, *back.pair], [number, *pair])
    assert (back.count, back.yes, back.day, back.absent) == (3, True, day, None)
    assert back.words == record.words
    same(back.inner, record.inner)
    same(back.by_name["x"], record.inner)
    for one, other in zip(back.several, record.several, strict=True):
        same(one, other)


def test_arrays_are_named_by_their_place():
    bands = WholeCurveBands(
        level=0.9,
        golfers=12,
        swings=40,
        mean_cm=np.zeros((3, NODES)),
        sd_cm=np.ones((3, NODES)),
        floor_cm=0.1,
        axis_factors=np.array([2.0, 2.5, 3.0]),
        joint_factor=3.5,
        share_low=0.8,
        share_high=0.99,
        method="m",
        band_of="b",
    )
    document, taken = take_apart(bands)
    assert set(taken) == {"mean_cm", "sd_cm", "axis_factors"}
    assert document["joint_factor"] == 3.5
    assert put_together(WholeCurveBands, document, taken).axis_factors.tolist() == [2.0, 2.5, 3.0]


def test_an_annex_holds_plain_values_and_arrays_that_nobody_can_change():
    annex = Annex(kind="partition", subject="s", document={"pair": (1, 2)}, arrays={"t": [1, 2]})
    assert annex.document == {"pair": [1, 2]}
    with pytest.raises(ValueError, match="read-only"):
        annex.arrays["t"][0] = 5.0


def test_an_annex_of_no_known_kind_or_with_a_number_json_lacks_is_refused():
    with pytest.raises(ValueError, match="whole_curve"):
        Annex(kind="weather", subject="s")
    with pytest.raises(ValueError, match="JSON"):
        Annex(kind="partition", subject="s", document={"p": float("nan")})
