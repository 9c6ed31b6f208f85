from datetime import UTC, datetime

import pytest

from norms.errors import TableRefused
from norms.records import Golfer
from pipelines.match_speeds import match_speeds_by_time
from pipelines.store import open_store

HEADER = "golfer,club,time,ball_speed_mph"


@pytest.fixture
def store(make_stored_swing):
    with open_store(":memory:") as opened:
        opened.add_golfers([Golfer(code="Q1", hand="right")])
        swings = [make_stored_swing("Q1", n) for n in (1, 2, 10)]
        opened.add_swings(swings, [], opened.begin_run("North bay", datetime.now(UTC)))
        yield opened


@pytest.fixture
def make_stored_swing():
    from datetime import date

    import numpy as np

    from norms.records import (
        EventMark,
        FeatureValues,
        PhaseCurve,
        Swing,
        SwingEvents,
        SwingLabel,
    )

    def build(golfer, number):
        names = ("address", "start", "top", "impact", "finish")
        marks = {n: EventMark(time_s=float(k), method="x") for k, n in enumerate(names)}
        return Swing(
            label=SwingLabel(
                swing=f"{golfer}_driver_{number}",
                golfer=golfer,
                club="driver",
                recorded_on=date(2026, 4, 30),
                lab="North bay",
                source=f"{number}.c3d",
                content_hash=str(number),
            ),
            hand="right",
            rate_hz=240.0,
            curve=PhaseCurve(values_cm=np.zeros((3, 301)), times_s=np.linspace(1, 4, 301)),
            events=SwingEvents(**marks),
            features=FeatureValues(values={}, missing={}),
            pelvis_method="given",
            axes_source="declared",
            shot_axes=np.eye(3),
            filled_share=np.zeros(3),
        )

    return build


def table(tmp_path, rows, header=HEADER):
    file = tmp_path / "timed.csv"
    file.write_text("\n".join([header, *rows]) + "\n")
    return file


def test_speeds_in_order_of_time_meet_swings_in_order_of_number(store, tmp_path):
    rows = [
        "Q1,Driver,2026-04-30 14:09:00,150",
        "Q1,driver,2026-04-30 14:05:00,140",
        "Q1,driver,2026-04-30 14:07:00,",
    ]
    found = match_speeds_by_time(store, table(tmp_path, rows))
    assert (found.matched, found.unmatched) == (2, ())
    speeds = {code: one.ball_speed_mps / 0.44704 for code, one in store.ball_speeds().items()}
    assert speeds == {"Q1_driver_1": pytest.approx(140.0), "Q1_driver_10": pytest.approx(150.0)}


def test_a_session_of_another_count_is_left_alone_and_named(store, tmp_path):
    rows = ["Q1,driver,2026-04-30 14:05:00,140", "Q1,driver,2026-05-01 09:00:00,141"]
    found = match_speeds_by_time(store, table(tmp_path, rows))
    assert found.matched == 0
    assert found.unmatched == (
        "golfer Q1, driver, 2026-04-30: 1 speeds for 3 swings",
        "golfer Q1, driver, 2026-05-01: 1 speeds for 0 swings",
    )
    assert store.ball_speeds() == {}


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("Q1,driver,2026-04-30,140", "is a day without a time"),
        ("Q1,driver,noon,140", "is not a time"),
        ("Q1,driver,2026-04-30 14:05:00,900", "ball_speed_mph"),
    ],
)
def test_faults_are_listed_and_nothing_is_imported(store, tmp_path, row, words):
    with pytest.raises(TableRefused, match=words):
        match_speeds_by_time(store, table(tmp_path, [row]))
    assert store.ball_speeds() == {}


def test_a_table_without_speeds_or_with_two_units_is_refused(store, tmp_path):
    with pytest.raises(TableRefused, match="has no column of ball speed"):
        match_speeds_by_time(store, table(tmp_path, ["Q1,driver,2026-04-30 14:05"], HEADER[:16]))
    both = HEADER + ",ball_speed_mps"
    with pytest.raises(TableRefused, match="keep one of them"):
        match_speeds_by_time(store, table(tmp_path, ["Q1,driver,2026-04-30 14:05,1,2"], both))
