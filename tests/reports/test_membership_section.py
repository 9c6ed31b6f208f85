"""Whom the norms speak for, on the page and the terminal, from swings to words."""

import re
from dataclasses import replace

import pytest

from norms.cohort.annex_contents import weightings
from norms.cohort.annexes import AnnexChoices
from norms.cohort.edition import verify_edition
from norms.cohort.weights import weighted_moves
from reports.atlas.membership import membership_section
from reports.edition_page import edition_page, sorted_cells
from reports.tables import membership_table

CHOICES = AnnexChoices(relabellings=99)
WOMEN_HERE = 9


@pytest.fixture(scope="module")
def few_women(small_academy):
    """All men and 9 of 48 women with a handicap, nobody without. Women's features lie higher."""
    women = [code for code, golfer in small_academy.golfers.items() if golfer.sex == "female"]
    here = {*small_academy.golfers} - {*women} | {*women[::4]}
    here = {code for code in here if small_academy.golfers[code].handicaps}
    features = small_academy.pool.features.copy()
    features[[code in women for code in small_academy.pool.golfers], 0] += 3.0
    moved = replace(small_academy, pool=replace(small_academy.pool, features=features))
    return moved.recorded(here.__contains__).build(choices=CHOICES)


def driver(edition):
    told = membership_section(edition, sorted_cells(edition), "cm")
    return next(group for group in told["groups"] if group["label"] == "Driver, all levels")


def test_the_director_reads_who_is_missing_what_weights_cost_and_what_they_move(few_women):
    holds, cost, absent, moves = driver(few_women)["sentences"]
    assert holds.startswith("It holds 57 of the 96 golfers on the roster who belong to it. ")
    assert f"female ({WOMEN_HERE} of 48)" in holds
    assert "no handicap (0 of 9)" in holds
    found = weightings(few_women)["driver/all"]
    assert (
        f"count as {found.effective_golfers:.0f} (design effect {found.design_effect:.2f})" in cost
    )
    assert found.design_effect > 1.3
    assert "farthest apart: " in cost
    assert absent == (
        "Wholly missing: no handicap. No weight can bring back who is missing: the weights "
        "speak for 90 % of the membership."
    )
    out = [
        move
        for move in weighted_moves(found, few_women.cell("driver/all").bands)
        if move.beyond_interval
    ]
    assert "sway_travel" in {move.feature for move in out}
    assert moves.startswith(f"Weighed so, {len(out)} of the 21 percentiles of features move out of")
    assert moves.endswith(" For 4 more the weights leave too few golfers.")
    assert "read those as of the golfers recorded, not of the membership" in moves


def test_what_moves_out_of_its_interval_is_listed_with_both_intervals(few_women):
    rows = driver(few_women)["moves"]
    out = [row for row in rows if row["beyond"] == "yes"]
    assert rows[: len(out)] == out
    assert "Forward travel" in {row["subject"] for row in out}
    assert all(
        re.fullmatch(r"\S+ \(\S+ to \S+\)", row[n]) for row in rows for n in ("plain", "weighted")
    )


def test_a_group_that_is_the_membership_says_that_nothing_is_to_be_moved(small_academy):
    holds, cost, moves = driver(small_academy.edition)["sentences"]
    assert "holds 96 of the 96 golfers" in holds
    assert "No level, sex or age group is clearly thinner than the rest." in holds
    assert "96 golfers count as 96 (design effect 1.00); every share is the membership’s" in cost
    assert moves.startswith("Weighed so, none of the 35 percentiles of features moves out of its")
    assert driver(small_academy.edition)["moves"] == []


def test_the_page_says_that_the_bands_are_not_weighed(few_women):
    page = edition_page(few_women)
    said = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))
    assert "The bands on this page count every golfer once and are not weighed." in said
    assert "Consent decides whose swings count, not who is a member." in said
    assert "Deming and Stephan (1940)" in said
    assert 'href="#membership"' in page


def test_an_edition_from_elsewhere_shows_weights_and_no_count_of_the_roster(few_women):
    group = driver(replace(few_women, evidence={}))
    assert group["coverage"] == []
    assert group["sentences"] == driver(few_women)["sentences"][1:]
    nothing = replace(few_women, evidence={}, annexes=())
    assert membership_section(nothing, nothing.cells, "cm") is None


def test_a_group_that_cannot_be_weighed_says_why(few_women):
    told = membership_section(few_women, sorted_cells(few_women), "cm")
    reasons = {row["label"]: row["why"] for row in told["rows"] if row["why"]}
    assert all("does not hold 5 golfers of each of two" in why for why in reasons.values())
    assert len(reasons) < len(told["rows"])


def test_weights_stand_under_the_hash_and_the_same_swings_give_the_same(few_women):
    place, one = next((i, a) for i, a in enumerate(few_women.annexes) if a.kind == "weighting")
    annexes = [*few_women.annexes]
    annexes[place] = replace(one, document={**one.document, "design_effect": 1.0})
    assert verify_edition(few_women)
    assert not verify_edition(replace(few_women, annexes=tuple(annexes)))


def test_the_terminal_has_a_row_of_each_group_over_all_levels(few_women):
    heading, *rows = membership_table(few_women)
    assert heading[:3] == ["group", "missing more than the rest", "count as"]
    assert [row[0] for row in rows] == ["driver, all levels", "iron 7, all levels"]
    found = weightings(few_women)["driver/all"]
    assert rows[0][2] == f"{found.effective_golfers:.0f} of {found.golfers}"
    assert f"female ({WOMEN_HERE} of 48)" in rows[0][1]
    bare = membership_table(replace(few_women, annexes=(), evidence={}))
    assert bare[1] == ["driver, all levels", "–", "–", "–", "–"]
