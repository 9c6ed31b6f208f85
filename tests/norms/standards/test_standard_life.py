"""Draft, in review, approved, retired; signed, hashed, and never changed without being noticed."""

import json
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.errors import StandardRefused
from norms.records.standard import StandardFinding
from norms.standards.document import (
    decision_hash,
    standard_hash,
    standard_text,
    text_hash,
    verify_text,
)
from norms.standards.document import standard_of as from_text
from norms.standards.life import approve, retire, state_of, submit
from norms.standards.review_plan import refuse_plan

ON = date(2026, 6, 1)
SIGNED = {"role": "director of coaching", "reason": "agreed with the coaches", "on": ON}
AGREED = SIGNED | {"role": "academy director"}


def test_a_standard_comes_back_from_its_text_with_the_same_hash(standard_of):
    standard = standard_of()
    back = from_text(standard_text(standard))
    assert back.requirements == standard.requirements
    assert back.golfers == standard.golfers
    assert standard_text(back) == standard_text(standard)


def test_whole_life_in_order(academy, standard_of):
    standard = standard_of()
    first = submit(standard, (), (), **SIGNED)
    second = approve(standard, academy.edition, (), (first,), **AGREED)
    third = retire(standard, (first, second), **SIGNED)
    assert state_of(()) is None
    assert [state_of((first, second, third)[:k]) for k in (1, 2, 3)] == [
        "in review", "approved", "retired",
    ]  # fmt: skip
    assert second.standard_hash == standard_hash(standard)
    assert second.edition_hash == academy.edition.content_hash
    assert (second.role, second.decided_on) == ("academy director", ON)


def steps(standard, edition, *names):
    decisions = ()
    for name in names:
        if name == "submit":
            made = submit(standard, (), decisions, **SIGNED)
        elif name == "approve":
            made = approve(standard, edition, (), decisions, **AGREED)
        else:
            made = retire(standard, decisions, **SIGNED)
        decisions = (*decisions, made)
    return decisions


@pytest.mark.parametrize("names", [("submit", "submit", "approve"), ("submit", "retire")])
def test_allowed_ways(academy, standard_of, names):
    assert len(steps(standard_of(), academy.edition, *names)) == len(names)


@pytest.mark.parametrize(
    "names",
    [
        ("approve",),
        ("retire",),
        ("submit", "approve", "submit"),
        ("submit", "approve", "approve"),
        ("submit", "approve", "retire", "submit"),
        ("submit", "approve", "retire", "retire"),
    ],
)
def test_any_other_way_is_refused(academy, standard_of, names):
    with pytest.raises(StandardRefused) as refusal:
        steps(standard_of(), academy.edition, *names)
    assert refusal.value.code == "state"


@pytest.mark.parametrize("missing", ["role", "reason"])
def test_nobody_decides_without_role_and_reason(standard_of, missing):
    with pytest.raises(StandardRefused, match=missing):
        submit(standard_of(), (), (), **(SIGNED | {missing: "  "}))


def test_what_was_refused_cannot_be_submitted_and_a_warning_can(standard_of):
    standard = standard_of()
    fault = StandardFinding(severity="refused", code="outside_evidence", message="lies outside")
    with pytest.raises(StandardRefused, match="lies outside"):
        submit(standard, (fault,), (), **SIGNED)
    assert submit(standard, (replace(fault, severity="warning"),), (), **SIGNED)


def test_below_the_floor_only_a_signed_override_approves(small_academy, standard_of):
    standard = standard_of(academy=small_academy)
    in_review = (submit(standard, (), (), **SIGNED),)
    for unsigned in (None, "", "  "):
        with pytest.raises(StandardRefused, match="signed override") as refusal:
            approve(standard, small_academy.edition, (), in_review, override=unsigned, **AGREED)
        assert refusal.value.code == "below_floor"
    signed = approve(
        standard, small_academy.edition, (), in_review, override="pilot season", **AGREED
    )
    assert signed.override == "pilot season"


def test_an_override_that_was_not_needed_is_not_signed(academy, standard_of):
    standard = standard_of()
    in_review = (submit(standard, (), (), **SIGNED),)
    made = approve(standard, academy.edition, (), in_review, override="to be sure", **AGREED)
    assert made.override is None


def test_approval_asks_for_the_same_edition_and_a_review_date_to_come(
    academy, small_academy, standard_of
):
    standard = standard_of()
    in_review = (submit(standard, (), (), **SIGNED),)
    with pytest.raises(StandardRefused) as refusal:
        approve(standard, small_academy.edition, (), in_review, **AGREED)
    assert refusal.value.code == "other_edition"
    due = AGREED | {"on": standard.review_on}
    with pytest.raises(StandardRefused, match="review"):
        approve(standard, academy.edition, (), in_review, **due)


def test_a_standard_whose_review_is_due_is_not_put_up_for_review(standard_of):
    standard = standard_of()
    for late in (standard.review_on, date(2030, 1, 1)):
        with pytest.raises(StandardRefused, match=f"reviewed on {standard.review_on}") as refusal:
            submit(standard, (), (), **(SIGNED | {"on": late}))
        assert refusal.value.code == "review_date"
        assert f"not after {late}; set a later date" in refusal.value.message


@given(data=st.data())
def test_any_changed_byte_of_the_text_is_found(data, standard_of):
    standard = standard_of()
    text = standard_text(standard)
    stated = standard_hash(standard)
    assert verify_text(standard.name, text, stated).name == standard.name
    at = data.draw(st.integers(0, len(text) - 1))
    other = data.draw(st.characters(codec="ascii").filter(lambda c: c != text[at]))
    with pytest.raises(StandardRefused, match="was changed"):
        verify_text(standard.name, text[:at] + other + text[at + 1 :], stated)


def test_hash_covers_target_norm_and_edition(standard_of):
    standard = standard_of()
    document = json.loads(standard_text(standard))["standard"]
    assert {"edition_hash", "requirements", "cautions", "wrong_rate", "review_on"} <= set(document)
    assert {"low", "high", "norm"} <= set(document["requirements"][0])
    assert standard_of(title="Another title").title != standard.title
    assert standard_hash(standard_of(title="Another title")) != standard_hash(standard)
    assert text_hash(standard_text(standard)) == standard_hash(standard)


def test_decisions_are_chained(standard_of):
    made = submit(standard_of(), (), (), **SIGNED)
    first = decision_hash("a", made, "")
    assert decision_hash("a", made, first) != first
    assert decision_hash("b", made, "") != first
    assert decision_hash("a", replace(made, role="someone else"), "") != first


def test_the_role_that_put_it_up_does_not_approve_it_however_it_is_written(academy, standard_of):
    standard = standard_of()
    in_review = (submit(standard, (), (), **SIGNED),)
    for same in ("director of coaching", " Director  OF\u00a0coaching ", "DIRECTOR OF COACHING"):
        with pytest.raises(StandardRefused, match="another role approves") as refusal:
            approve(standard, academy.edition, (), in_review, **(SIGNED | {"role": same}))
        assert refusal.value.code == "same_role"
    assert approve(standard, academy.edition, (), in_review, **AGREED).reason == AGREED["reason"]


def test_a_one_person_academy_says_so_with_the_decision(academy, standard_of):
    standard = standard_of()
    in_review = (submit(standard, (), (), **SIGNED),)
    for nothing in (None, "", " "):
        with pytest.raises(StandardRefused, match="another role approves"):
            approve(standard, academy.edition, (), in_review, one_person=nothing, **SIGNED)
    made = approve(standard, academy.edition, (), in_review, one_person="I am alone", **SIGNED)
    assert made.reason == (
        "agreed with the coaches (approved by the role that put it up: I am alone)"
    )
    by_another = approve(standard, academy.edition, (), in_review, one_person="alone", **AGREED)
    assert by_another.reason == AGREED["reason"]


@pytest.mark.parametrize(
    "unwritten",
    [
        {"rationale": "TO BE WRITTEN: why the academy asks for this"},
        {"rationale": "to  be\u00a0written"},
        {"rationale": "  "},
        {"title": "Driver (to be written)"},
        {"cautions": ("TO BE WRITTEN",)},
    ],
)
def test_what_is_still_to_be_written_is_neither_put_up_nor_approved(
    academy, standard_of, unwritten
):
    standard = replace(standard_of(), **unwritten)
    with pytest.raises(StandardRefused) as refusal:
        submit(standard, (), (), **SIGNED)
    assert refusal.value.code == "unwritten"
    assert next(iter(unwritten)) in refusal.value.message
    in_review = (submit(standard_of(), (), (), **SIGNED),)  # e.g. under an earlier version
    with pytest.raises(StandardRefused) as refusal:
        approve(standard, academy.edition, (), in_review, **AGREED)
    assert refusal.value.code == "unwritten"


@pytest.mark.parametrize(
    ("plan", "code", "words"),
    [
        ({"window_days": 10**12}, "window", "window_days 1000000000000: at most 730"),
        ({"swings": 10**9}, "plan", "swings 1000000000: at most 30"),
        ({"days": 10**9}, "plan", "no more days than swings"),
        ({"swings": 5, "days": 3, "window_days": 2}, "plan", "nor than days of the window"),
        ({"days": 0}, "plan", "each must be 1 or more"),
    ],
)
def test_a_plan_beyond_reason_is_refused_when_written_and_when_approved(
    academy, standard_of, plan, code, words
):
    with pytest.raises(StandardRefused, match=words) as refusal:
        refuse_plan(**({"swings": 5, "days": 1, "window_days": 90} | plan))
    assert refusal.value.code == code
    in_review = (submit(standard_of(), (), (), **SIGNED),)
    with pytest.raises(StandardRefused, match=words):
        approve(replace(standard_of(), **plan), academy.edition, (), in_review, **AGREED)
