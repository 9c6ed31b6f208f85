"""Progress in words: values and changes as the sheet says them, without signs."""

from datetime import date

import numpy as np
import pytest

from norms.placement.progress import Spread, judge_change
from norms.records.progress import Progress, SessionSummary
from norms.vocabulary import AXES, NODES
from reports.progress_page import progress_page, progress_rows

NOTHING = np.full((len(AXES), NODES), np.nan)
FLAT = np.zeros((len(AXES), NODES))


@pytest.fixture
def progress() -> Progress:
    spread = Spread(golfer=2.0, day=0.1, swing=0.3, mean=0.0)
    changes = [
        judge_change("lift_top", -4.57, -7.11, spread, (4, 4)),
        judge_change("sway_top", -2.54, 1.27, spread, (4, 4)),
        judge_change("sway_travel", 10.16, 9.91, spread, (4, 4)),
    ]
    return Progress(
        golfer="Q0001", club="driver", edition="spring", cohort_label="driver", peers=40,
        sessions=(
            SessionSummary(day=date(2025, 8, 17), lab="North bay", swings=4),
            SessionSummary(day=date(2026, 10, 5), lab="North bay", swings=4),
        ),
        events=(), compared=(0, 1), changes=tuple(changes), first_cm=FLAT, last_cm=FLAT,
        own_low_cm=NOTHING, own_high_cm=NOTHING, peers_share=None, peers_low_cm=NOTHING,
        peers_high_cm=NOTHING, own_deviation_cm=(1.0, 1.0), cautions=(),
    )  # fmt: skip


def test_values_and_changes_are_said_without_signs(progress):
    rows = progress_rows(progress, unit="in")
    assert rows[1][:4] == ["Lift at the top", "1.8 in below", "2.8 in below", "1.0 in lower"]
    assert rows[2][:4] == ["Sway at the top", "1.0 in away", "0.5 in toward", "1.5 in toward"]
    assert rows[3][:4] == ["Forward travel", "4.0 in", "3.9 in", "0.1 in less"]
    assert "−" not in "".join(cell for row in rows for cell in row)


def test_the_page_leads_with_the_whole_words(progress):
    page = progress_page(progress).replace("\u00a0", " ")
    assert (
        "Lift at the top: 1.0 in lower, from 1.8 in below address to 2.8 in below address." in page
    )
    assert "<td>1.0 in away</td><td>0.5 in toward</td>" in page
