from datetime import date
from pathlib import Path

import pytest

from norms.errors import CaptureRefused
from pipelines.collect.file_name import FileNamePattern, GivenLabel, label_file

PATTERN = FileNamePattern.parse("{golfer}_{date}_{club}_{number}")


def label(name, pattern=PATTERN, **given):
    return label_file(
        Path("some") / name, pattern, lab="North bay", content_hash="0f", given=GivenLabel(**given)
    )


def test_the_name_gives_code_golfer_club_and_day():
    found = label("Q0007_2026-03-02_iron-7_04.c3d")
    assert found.swing == "Q0007_2026-03-02_iron-7_04"
    assert (found.golfer, found.club, found.recorded_on) == ("Q0007", "iron 7", date(2026, 3, 2))
    assert (found.lab, found.source) == ("North bay", "Q0007_2026-03-02_iron-7_04.c3d")


def test_what_the_caller_states_goes_before_the_name():
    found = label("Q0007_2026-03-02_driver_4.c3d", golfer="Q0100", club="Iron 7")
    assert (found.golfer, found.club, found.recorded_on) == ("Q0100", "iron 7", date(2026, 3, 2))


def test_a_name_that_says_nothing_is_enough_when_the_caller_states_all():
    found = label("swing.bvh", golfer="Q1", club="driver", recorded_on=date(2026, 1, 1))
    assert (found.swing, found.golfer) == ("swing", "Q1")


@pytest.mark.parametrize(
    ("name", "pattern", "words"),
    [
        ("swing.c3d", PATTERN, "does not follow '{golfer}_{date}_{club}_{number}'"),
        ("Q1_2026-13-40_driver_1.c3d", PATTERN, "not a day of the calendar"),
        ("Q1.c3d", FileNamePattern.parse("{golfer}"), "the club is not in the name"),
        ("Q1.c3d", None, "the golfer is not in the name"),
        ("Q1-driver.c3d", FileNamePattern.parse("{golfer}-{club}"), "the date is not in the name"),
    ],
)
def test_a_name_that_does_not_tell_is_refused(name, pattern, words):
    with pytest.raises(CaptureRefused, match=r"rename the file, or state") as caught:
        label(name, pattern)
    assert words in caught.value.message
    assert caught.value.message.startswith(name)
    assert caught.value.code == "file_name"
