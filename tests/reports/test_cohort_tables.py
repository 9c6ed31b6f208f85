from dataclasses import replace

from norms.cohort.adopt import Adoption, ErrorRates, FeatureCheck
from norms.cohort.compare import EditionComparison
from norms.cohort.compare_cells import CellComparison, Move
from norms.cohort.plan import Plan, Recruiting, Width
from norms.cohort.speed_peers import PeerGroup, PeerPlace, TwoWayPeers, TwoWayPlace
from norms.cohort.sufficiency import Sufficiency
from reports.cohort_tables import (
    adoption_sentences,
    adoption_table,
    comparison_sentences,
    comparison_table,
    peers_sentences,
    peers_table,
    plan_table,
    widths_table,
)

GRADE = Sufficiency(
    cohort_key="driver/to_5",
    cohort_label="driver, handicap over 0, to 5",
    kind=("club driver",),
    golfers=12,
    swings=1_040,
    grade="provisional",
    shown_percents=(25.0, 50.0, 75.0),
    shown_from=5,
    established_from=60,
    more_to_show=0,
    more_to_establish=48,
)


def test_a_plan_names_no_golfer_in_its_rows():
    row = Recruiting(
        sufficiency=GRADE, needed=48, invite=("Q0001", "Q0002"), to_ask=3, missing=("sex female",)
    )
    plan = Plan(
        edition="spring",
        rows=(row,),
        widths_of="driver/to_5",
        spread_from="driver/all",
        pilots=80,
        widths=(
            Width(feature="sway_travel", percent=5.0, golfers=30, width=None),
            Width(feature="sway_travel", percent=5.0, golfers=60, width=2.54),
        ),
    )
    assert plan_table(plan)[1][2:] == ["12", "48", "2", "3", "sex female"]
    assert "Q0001" not in repr(plan_table(plan))
    assert widths_table(plan) == [
        ["feature", "percentile", "30 golfers", "60 golfers"],
        ["forward travel", "5", "–", "1.0 in"],
    ]


def comparison_of(*moves, note=None):
    cell = CellComparison(
        cohort_key="driver/all",
        cohort_label="driver, all levels",
        golfers_first=40,
        golfers_second=60,
        golfers_both=20,
        swings_per_golfer_first=3.0,
        swings_per_golfer_second=3.0,
        moves=moves,
        note=note,
    )
    return EditionComparison(
        first="spring",
        second="autumn",
        first_hash="a",
        second_hash="b",
        same_numbers=False,
        only_first=(),
        only_second=(),
        cells=(cell,),
        false_alarm_rate=0.05,
        relabellings=999,
    )


def move(subject, moved, phase=None, node=None):
    return Move(
        subject=subject,
        phase=phase,
        node=node,
        percent=90.0,
        first=2.54,
        second=5.08,
        change=2.54,
        of_middle_half=0.124,
        p_value=0.004,
        moved=moved,
    )


def test_only_what_moved_is_listed():
    curve = move("lift", True, "downswing", 150)
    rows = comparison_table(comparison_of(move("sway_travel", False), curve))
    assert rows[1:] == [
        [
            "driver, all levels",
            "lift, downswing (node 150)",
            "90",
            "1.0 in",
            "2.0 in",
            "1.0 in",
            "12 %",
            "0.004",
        ]
    ]
    rows = comparison_table(comparison_of(move("sway_travel", True)))
    assert rows[1][1] == "forward travel"


def test_a_group_where_nothing_moved_says_so_or_why_not():
    assert comparison_table(comparison_of(move("tempo", False)))[1][1] == (
        "no more than sampling error"
    )
    assert comparison_table(comparison_of(note="withheld"))[1][1] == "withheld"


def test_a_comparison_says_whom_it_rests_on_how_it_tells_and_how_often_it_errs():
    comparison = comparison_of(move("tempo", True), note="the group is defined differently")
    said = comparison_sentences(replace(comparison, only_second=("iron 7/all",)))
    counts = f"{comparison.cells[0].golfers_both} of them in both; the group is defined differently"
    assert counts in said[0]
    assert said[1] == f"Only {comparison.second} has iron 7/all."
    assert said[2] == comparison.rule
    assert "at most 5 % of such comparisons" in said[3]
    (same,) = comparison_sentences(replace(comparison, same_numbers=True))
    assert "nothing can have moved" in same


def test_a_verdict_states_its_error_rates():
    adoption = Adoption(
        cohort_key="driver/all",
        cohort_label="driver, all levels",
        verdict="do not accept",
        edition_golfers=200,
        local_golfers=20,
        checks=(
            FeatureCheck(
                feature="tempo",
                golfers=20,
                edition_median=3.0,
                local_median=3.5,
                below_median=2,
                outside=8,
                outside_expected=2.0,
                location=4.0,
                spread=1.0,
                p_value=0.001,
            ),
        ),
        refused_by=("tempo",),
        error_rates=ErrorRates(
            false_refusal=0.1,
            found_shift_half=0.2,
            found_shift_one=0.8,
            found_spread_half_more=0.4,
        ),
    )
    assert adoption_table(adoption)[1] == [
        "tempo", "20", "3.00", "3.50", "8", "2.0", "0.001", "against",
    ]  # fmt: skip
    verdict, rates = adoption_sentences(adoption)
    assert verdict == "driver, all levels: do not accept, on 20 local golfers against 200."
    assert "in at most 10 of 100" in rates
    assert "80 of 100" in rates


def test_peers_stand_side_by_side():
    peers = TwoWayPeers(
        golfer="Q0001",
        by_handicap=PeerGroup(
            matched_on="handicap", golfers=30, own=-2.0, low=-6.0, high=2.0, mean=-1.0,
            withheld=None,
        ),
        by_speed=PeerGroup(
            matched_on="ball speed", golfers=2, own=70.0, low=67.5, high=72.5, mean=None,
            withheld="2 golfers of like ball speed, where 5 are needed",
        ),
        places=(
            TwoWayPlace(
                feature="tempo",
                value=3.0,
                at_like_handicap=PeerPlace(peers=30, percentile=95.0, low=84.0, high=99.0),
                at_like_speed=PeerPlace(peers=2, percentile=None, low=None, high=None),
                finding="not known",
            ),
        ),
    )  # fmt: skip
    rows = peers_table(peers)
    assert all(heading.startswith("percentile") for heading in rows[0][2:4])
    assert rows[1] == ["Tempo", "3.00", "95 (84 to 99), 30 peers", "–", "not known"]
    by_handicap, by_speed, caution = peers_sentences(peers)
    assert by_handicap == (
        "Matched on handicap: 30 golfers from +6.0 to 2.0, +1.0 on average; the golfer's own is "
        "+2.0."
    )
    assert by_speed.endswith("nothing shown, 2 golfers of like ball speed, where 5 are needed.")
    assert "not being caused" in caution
