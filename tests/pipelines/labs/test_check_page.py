"""The check page holds what the check says, escapes it, and repeats byte for byte."""

import dataclasses
import re

import pytest

from pipelines.check_labs import CheckRequest, check_labs, release_session
from reports.check_page import check_page
from reports.check_tables import labs_table, sessions_table, swings_table


def slipped(values, lab, day):
    return values + 6.0 * (lab == "North bay" and day == 2)


@pytest.fixture(scope="module")
def check(lab_store):
    return check_labs(lab_store(change=slipped))


def text_of(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).replace("\u00a0", " ").split())


def test_the_page_names_the_held_session_with_its_reason(check, session_day):
    text = text_of(check_page(check))
    assert "1 session held back from norms" in text
    assert f"North bay, {session_day(2).isoformat()} held back Driver: its golfers were off" in text
    assert "lift_rise" not in text


def test_a_released_session_says_who_and_why(lab_store, session_day):
    store = lab_store(change=slipped)
    check_labs(store)
    release_session(store, "North bay", session_day(2), who="head <of> lab", why="mat & slope")
    page = check_page(check_labs(store))
    assert "released by head &lt;of&gt; lab" in page
    assert "mat &amp; slope" in page


def test_the_noise_budget_stands_in_the_readers_unit(check):
    error = check.noise["driver"]
    place = error.feature_names.index("sway_top")
    inches, centimetres = (text_of(check_page(check, unit=unit)) for unit in ("in", "cm"))
    assert f"{error.sdc_between[place]:.2f}" in centimetres
    assert f"{error.sdc_between[place] / 2.54:.2f}" in inches
    with pytest.raises(ValueError, match="unit"):
        check_page(check, unit="ft")


def test_every_chart_is_drawn_with_words_and_numbers_beside_it(check):
    page = check_page(check)
    assert page.count("<svg") == page.count("<desc") == len(check.controls) == 2
    assert page.count("The chart in numbers") == 2
    assert "diamond" in page


def test_the_page_is_the_same_each_time_and_needs_nothing_from_outside(check):
    page = check_page(check)
    assert page == check_page(check)
    assert "<script" not in page
    assert not re.search(r"(?:src|href)=\"http", page)


def test_a_lab_in_control_with_nothing_rejected_says_so(lab_store):
    check = check_labs(lab_store())
    text = text_of(check_page(dataclasses.replace(check, rejected=())))
    assert "No session is held back." in text
    assert "No file was rejected." in text


def test_rows_for_a_terminal_go_from_labs_to_one_swing(lab_store, check, session_day):
    store = lab_store(change=slipped)
    whole = check_labs(store)
    assert [row[:2] for row in labs_table(whole)[1:]] == [
        ["North bay", "driver"], ["Range hut", "driver"],
    ]  # fmt: skip
    told = sessions_table(whole, every=False)[1:]
    assert [(row[1], row[7]) for row in told] == [
        (session_day(1).isoformat(), "in control, 12 measured again"),  # a file was rejected
        (session_day(2).isoformat(), "held back"),
    ]
    assert len(sessions_table(whole, every=True)) == 11
    one = check_labs(store, CheckRequest(swing=store.swing_qualities()[0].swing))
    assert "impact 2.000 s by club" in swings_table(one)[1][4]
