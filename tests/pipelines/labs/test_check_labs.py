"""From a store with known faults of its labs to what a check says and what a build leaves out."""

import json
from datetime import date

import numpy as np
import pytest

from norms.cohort.annex_contents import lab_terms_in, noise_budgets
from norms.cohort.edition import verify_edition
from norms.errors import CohortRefused, NormsError, StoreRefused
from norms.records import FileOutcome
from pipelines.build_edition import build_edition
from pipelines.check_document import check_document
from pipelines.check_labs import CheckRequest, check_labs, rejected_files, release_session
from pipelines.lab_standing import lab_standing, noise_by_club
from pipelines.store import open_store


def slipped(values, lab, day):
    """On day 2 the first lab reads everything 6 too much."""
    return values + 6.0 * (lab == "North bay" and day == 2)


def test_a_lab_that_slipped_for_a_day_has_that_session_held_until_released(lab_store, session_day):
    store = lab_store(change=slipped)
    check = check_labs(store)
    held = [one for one in check.sessions if one.state == "held back"]
    assert [(one.lab, one.recorded_on) for one in held] == [("North bay", session_day(2))]
    assert "off their other days" in held[0].reason
    assert held[0].repeated_golfers == 12

    before = build_edition(store, "held")
    rule = next(rule for rule in before.attrition if "held back" in rule)
    assert before.attrition[rule] == 24  # 12 golfers, two swings each
    release_session(store, "North bay", session_day(2), who="head of the lab", why="checked")
    after = build_edition(store, "released")
    assert not any("held back" in rule for rule in after.attrition)
    golfers = [e.cell("driver/all").cohort.swing_counts.sum() for e in (before, after)]
    assert golfers[1] - golfers[0] == 24
    states = {one.state for one in check_labs(store).sessions}
    assert "released" in states
    assert "held back" not in states


def test_a_second_check_holds_nothing_new_and_forgets_nothing(lab_store):
    store = lab_store(change=slipped)
    check_labs(store)
    first = store.session_holds()
    check_labs(store)
    assert store.session_holds() == first


@pytest.mark.parametrize(("who", "why"), [("", "checked"), ("head of the lab", "  ")])
def test_a_release_needs_who_and_why(lab_store, session_day, who, why):
    store = lab_store(change=slipped)
    check_labs(store)
    with pytest.raises(NormsError, match="--who ROLE and --why TEXT"):
        release_session(store, "North bay", session_day(2), who=who, why=why)


def test_a_lab_linked_by_too_few_golfers_is_left_out_with_its_rule(lab_store):
    store = lab_store(second_lab=7)
    edition = build_edition(store, "one lab")
    (rule,) = (rule for rule in edition.attrition if "not yet linked" in rule)
    # 7 golfers, each on two of the four days, two swings a day
    assert edition.attrition[rule] == 28
    assert [entry["lab"] for entry in edition.parameters["labs"]] == ["North bay"]
    verdict = next(one for one in check_labs(store).admissions if one.lab == "Range hut")
    assert not verdict.admitted


def test_a_store_of_labs_without_a_profile_builds_nothing_and_says_why(lab_store):
    store = lab_store(profiles=())
    with pytest.raises(CohortRefused, match="240 swings: lab whose profile is not kept"):
        build_edition(store, "none")


def test_labs_that_differ_are_put_in_the_reference_labs_terms_and_the_edition_says_so(lab_store):
    def shifted(values, lab, day):
        return values + 4.0 * (lab == "Range hut")

    store = lab_store(change=shifted, golfers=60, second_lab=60)
    edition = build_edition(store, "two labs")
    entries = {entry["lab"]: entry["label"] for entry in edition.parameters["labs"]}
    assert "reference lab" in entries["North bay"]
    assert "60 golfers measured in both" in entries["Range hut"]
    (terms,) = lab_terms_in(edition)
    adjusted = [v.startswith("adjust") for v in terms.effect.verdicts]
    assert np.mean(adjusted) > 0.5
    np.testing.assert_allclose(terms.effect.shift, 4.0, atol=0.6)
    # Taken apart into golfers, no lab's 4 is left in the adjusted features.
    column = adjusted.index(True)
    spread = noise_budgets(edition)["driver"].lab_sd[column]
    assert spread < 0.5
    assert verify_edition(store.edition("two labs"))


def test_the_noise_budget_is_kept_with_the_edition_and_is_that_of_the_store(lab_store):
    store = lab_store()
    build_edition(store, "spring")
    kept = noise_budgets(store.edition("spring"))
    now = noise_by_club(lab_standing(store, hold=False).norms_pool)
    assert list(kept) == list(now) == ["driver"]
    np.testing.assert_array_equal(kept["driver"].sdc_between, now["driver"].sdc_between)
    # drawn with 0.6 within a day and 0.4 between days
    np.testing.assert_allclose(np.median(kept["driver"].sem_within.value), 0.6, rtol=0.1)
    np.testing.assert_allclose(np.median(kept["driver"].day_sd), 0.4, rtol=0.35)
    assert np.isfinite(kept["driver"].swing_node_sd_cm[:, 1:]).all()


def test_a_check_goes_from_the_store_down_to_one_swing(lab_store, session_day):
    store = lab_store()
    everything = check_labs(store)
    lab = check_labs(store, CheckRequest(lab="Range hut"))
    day = check_labs(store, CheckRequest(lab="North bay", session=session_day(1)))
    code = day.swings[0].swing
    one = check_labs(store, CheckRequest(swing=code))
    assert len(everything.sessions) == 10
    assert everything.swings == ()
    assert {s.lab for s in lab.sessions} == {c.lab for c in lab.controls} == {"Range hut"}
    assert len(day.sessions) == 1
    assert len(day.swings) == day.sessions[0].swings == 24
    assert day.sessions[0].rejected == 1
    assert [s.swing for s in one.swings] == [code]
    assert one.sessions[0].recorded_on == session_day(1)
    assert everything.noise["driver"].swings == 240  # 12 golfers, two swings, ten sessions
    for check in (everything, lab, day, one):
        assert json.loads(json.dumps(check_document(check), allow_nan=False))


@pytest.mark.parametrize(
    ("request_", "words"),
    [
        (CheckRequest(lab="Moon"), "labs are North bay, Range hut"),
        (CheckRequest(session=date(1999, 1, 1)), "nothing was collected of that day"),
        (CheckRequest(swing="nobody"), "is not in the store"),
    ],
)
def test_what_was_never_collected_is_refused_by_name(lab_store, request_, words):
    with pytest.raises(StoreRefused, match=words):
        check_labs(lab_store(), request_)


def test_an_empty_store_has_nothing_to_check():
    with open_store(":memory:") as store, pytest.raises(StoreRefused, match="no capture yet"):
        check_labs(store)


def test_an_object_measured_too_seldom_leaves_the_golfers_on_the_charts(lab_store):
    check = check_labs(lab_store(), CheckRequest(repeated_object="Q0000"))
    assert {one.basis for one in check.controls} == {"repeated golfers"}


def test_a_file_accepted_later_is_no_longer_a_rejected_one():
    def outcome(status, source):
        return FileOutcome(source=source, lab="hut", status=status, code="x", message="m")

    outcomes = [
        outcome("rejected", "a/one.c3d"),
        outcome("rejected", "a/two.c3d"),
        outcome("rejected", "b/two.c3d"),
        outcome("accepted", "b/one.c3d"),
    ]
    assert [one.source for one in rejected_files(outcomes, [])] == ["two.c3d"]
