from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest

from norms.cohort.lab_control import lab_control
from norms.cohort.measurement_error import measurement_error
from norms.cohort.session_quality import out_of_control, session_qualities
from norms.errors import Notice
from norms.records import (
    EventMark,
    FilterFacts,
    RejectedFile,
    SessionHold,
    SessionRelease,
    SwingQuality,
)

DAY = date(2025, 1, 1)
GAP = Notice(code="gap_filled", message="a gap was filled")


def quality(number, *, lab="north", day=DAY, notices=(), cutoff=12.0):
    return SwingQuality(
        swing=f"s{number}",
        golfer=f"Q{number // 2:04d}",
        club="driver",
        lab=lab,
        recorded_on=day,
        source=f"s{number}.c3d",
        rate_hz=240.0,
        pelvis_method="harrington",
        axes_source="declared",
        filled_share=np.array([0.0, 0.1 * number, 0.0]),
        events={
            "top": EventMark(time_s=1.0, method="club reversal"),
            "finish": EventMark(time_s=2.0, method="end of capture", stand_in=True),
        },
        notices=notices,
        filtering=cutoff
        and FilterFacts(
            cutoff_hz=cutoff,
            cutoff_method="fixed",
            noise_sd_cm=np.zeros(3),
            position_sd_cm=np.zeros(3),
            rate_sd_cm_s=np.zeros(3),
            rate_bias_cm_s=np.zeros(3),
        ),
    )


def test_a_session_says_what_its_swings_and_rejected_files_say():
    swings = [quality(0), quality(1, notices=(GAP,)), quality(2, cutoff=None)]
    lost = [
        RejectedFile(source="x.c3d", lab="north", code="cut_short", message="", recorded_on=DAY)
    ]
    (session,) = session_qualities(swings, lost, [], [], [])
    assert (session.golfers, session.swings, session.warned, session.rejected) == (2, 3, 1, 1)
    np.testing.assert_allclose(session.filled_share, [0.0, 0.1, 0.0])
    assert session.filters == {"12 Hz, fixed": 2, "not kept": 1}
    assert session.methods == {"finish: end of capture (stand-in)": 3, "top: club reversal": 3}
    assert session.warnings == {"gap_filled": 1}
    assert session.rejections == {"cut_short": 1}
    assert session.state == "not judged"


def test_a_rejection_without_a_day_stands_last_of_its_lab():
    lost = [RejectedFile(source="x.c3d", lab="north", code="cut_short", message="")]
    sessions = session_qualities([quality(0), quality(1, lab="south")], lost, [], [], [])
    assert [(one.lab, one.recorded_on) for one in sessions] == [
        ("north", DAY), ("north", None), ("south", DAY),
    ]  # fmt: skip
    assert np.isnan(sessions[1].filled_share).all()


@pytest.mark.parametrize("released", [False, True])
def test_a_held_session_is_held_until_released_with_who_and_why(released):
    hold = SessionHold(lab="north", recorded_on=DAY, reason="off", held_at=datetime.now(UTC))
    release = SessionRelease(
        lab="north",
        recorded_on=DAY,
        who="head of the lab",
        why="the mat sloped",
        released_at=datetime(2025, 2, 3, tzinfo=UTC),
    )
    (session,) = session_qualities([quality(0)], [], [], [hold], [release] if released else [])
    assert session.state == ("released" if released else "held back")
    assert session.reason.startswith("off")
    if released:
        assert "head of the lab on 2025-02-03: the mat sloped" in session.reason


def test_a_session_is_judged_by_three_golfers_and_called_out_by_any_club(pool):
    visits = [(g, day, "north") for day in range(8) for g in range(10)] + [(0, 9, "north")]

    def slipped(values, day, lab):
        return values + 6.0 * (day == 5)

    drawn = pool(3, visits=visits, change=slipped)
    error = measurement_error(drawn, "driver")
    control = lab_control(drawn, "north", error)
    both = (control, replace(control, club="iron 7"))
    reasons = out_of_control(both)
    assert list(reasons) == [("north", date(2025, 2, 5))]
    assert reasons[("north", date(2025, 2, 5))].count("off their other days") == 2
    swings = [quality(0, day=day) for day in control.sessions]
    states = [one.state for one in session_qualities(swings, [], both, [], [])]
    assert states == ["in control"] * 8 + ["not judged"]
