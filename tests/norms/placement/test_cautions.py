from dataclasses import replace

import pytest

from norms.errors import Notice
from norms.placement.cautions import FEET_LINE, JUNIOR, ONE_SWING
from norms.placement.place import place_swing


def test_one_swing_is_always_called_one_swing(swing_of, edition, roster):
    placement = place_swing(swing_of("Q0003"), edition, golfer=roster["Q0003"])
    assert ONE_SWING in placement.cautions
    assert FEET_LINE not in placement.cautions
    assert JUNIOR not in placement.cautions


def test_few_peers_are_said_with_what_is_not_shown(swing_of, edition, roster):
    placement = place_swing(swing_of("Q0003"), edition, golfer=roster["Q0003"])
    assert placement.cautions[0] == (
        "Few peers: 19. Percentiles 5, 10, 90, 95 are not shown; all of them need 59 golfers."
    )


def test_stand_ins_are_named_with_their_uncertainty(swing_of, edition):
    swing = swing_of("Q9999", stand_ins=("top",), axes_source="feet_line")
    cautions = place_swing(swing, edition).cautions
    assert FEET_LINE in cautions
    assert "The top is a stand-in: found by hands reversal, believed to within 20 ms." in cautions
    assert not any("The impact is a stand-in" in caution for caution in cautions)


def test_warnings_of_the_swing_are_carried_and_notes_are_not(swing_of, edition):
    notices = (
        Notice(code="gap_filled", message="points were filled in 3% of the downswing"),
        Notice(code="finish_at_end", message="the end stands in for the finish"),
        Notice(code="method", message="hip joint centres by regression", severity="note"),
    )
    cautions = place_swing(swing_of("Q9999", notices=notices), edition).cautions
    assert "Points were filled in 3% of the downswing." in cautions
    assert not any("stands in for the finish" in caution for caution in cautions)
    assert not any("regression" in caution for caution in cautions)


@pytest.mark.parametrize(("born", "junior"), [(2008, False), (2009, True), (None, False)])
def test_a_junior_is_met_with_care(swing_of, edition, roster, born, junior):
    golfer = replace(roster["Q0003"], birth_year=born)  # the swing is of 2026
    cautions = place_swing(swing_of("Q0003"), edition, golfer=golfer).cautions
    assert (JUNIOR in cautions) == junior


def test_a_level_that_was_asked_for_is_said(swing_of, edition, roster):
    cautions = place_swing(swing_of("Q0003"), edition, golfer=roster["Q0003"], level="to_20")
    assert cautions.cautions[0].startswith("Held against a level that was asked for")
