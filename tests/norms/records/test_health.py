"""Marks of health are told from others by their words, or by who wrote them."""

from datetime import date

import pytest

from norms.records.health import ON_RECORD, concerns_health, is_of_health, without_health_words
from norms.records.progress import GolferEvent


@pytest.mark.parametrize(
    "words",
    [
        "injury",
        "Injured",
        "back pain",
        "lower back hurts",
        "saw the physio",
        "surgery",
        "ill",
        "aches",
    ],
)
def test_words_of_health_are_known_in_kind_and_in_note(words):
    assert concerns_health(words, None)
    assert concerns_health("lesson", f"no full swings, {words}")


@pytest.mark.parametrize(
    "words", ["lesson", "new driver", "grip, posture", "skill drill", "hill course"]
)
def test_other_words_are_not_of_health(words):
    assert not concerns_health(words, words)


def test_of_a_note_on_health_day_and_being_there_are_left():
    lesson = GolferEvent(golfer="Q0001", day=date(2026, 5, 1), kind="lesson", note="grip")
    told = GolferEvent(
        golfer="Q0001", day=date(2026, 5, 2), kind="away", note="in town", health=True
    )
    assert is_of_health(told)
    masked = GolferEvent(golfer="Q0001", day=told.day, kind=ON_RECORD, health=True)
    assert without_health_words([lesson, told]) == (lesson, masked)
