from datetime import date, timedelta

import numpy as np
import pytest

from norms.cohort.lab_admission import (
    NO_PROFILE,
    NOT_LINKED,
    SESSION_HELD,
    admit_labs,
    pool_rows,
)

BOTH = {"north", "south"}


def visits(linked: int) -> list[tuple[int, int, str]]:
    """Thirty golfers in the north, twenty others in the south, ``linked`` of the 30 there too."""
    north = [(g, 0, "north") for g in range(30)]
    south = [(100 + g, 1, "south") for g in range(20)]
    return north + south + [(g, 2, "south") for g in range(linked)]


def rows_of(pool, mask):
    return {(pool.labs[row], pool.recorded_on[row]) for row in np.flatnonzero(mask)}


@pytest.mark.parametrize(("linked", "admitted"), [(0, False), (7, False), (8, True)])
def test_a_lab_enters_once_eight_golfers_link_it_to_the_reference(pool, linked, admitted):
    drawn = pool(1, visits=visits(linked))
    found = admit_labs(drawn, BOTH, set())
    assert found.reference == {"driver": "north"}
    south = next(one for one in found.labs if one.lab == "south")
    assert (south.linked_golfers, south.admitted) == (linked, admitted)
    assert {lab for lab, _ in rows_of(drawn, found.admitted)} == (BOTH if admitted else {"north"})
    assert found.left_out == (
        {} if admitted else {NOT_LINKED: sum(lab == "south" for lab in drawn.labs)}
    )
    if not admitted:
        assert f"{linked} golfers" in south.reason


def test_a_lab_without_a_profile_stays_out_however_well_linked(pool):
    drawn = pool(2, visits=visits(20))
    found = admit_labs(drawn, {"south"}, set())
    assert found.reference == {"driver": "south"}
    assert {lab for lab, _ in rows_of(drawn, found.admitted)} == {"south"}
    assert set(found.left_out) == {NO_PROFILE}


def test_no_known_lab_admits_nothing(pool):
    drawn = pool(3, visits=visits(20))
    found = admit_labs(drawn, set(), set())
    assert not found.admitted.any()
    assert found.left_out == {NO_PROFILE: len(drawn.swings)}


def test_a_held_session_stays_out_and_links_nobody(pool):
    drawn = pool(4, visits=visits(8))
    linking_day = date(2025, 1, 1) + timedelta(days=14)
    found = admit_labs(drawn, BOTH, {("south", linking_day)})
    held = sum(day == linking_day for day in drawn.recorded_on)
    others = sum(lab == "south" for lab in drawn.labs) - held
    assert found.left_out == {SESSION_HELD: held, NOT_LINKED: others}


def test_clubs_are_linked_each_on_its_own(pool):
    from dataclasses import replace

    drawn = pool(5, visits=visits(8))
    clubs = tuple(
        "iron 7" if day == date(2025, 1, 15) and code >= "Q0004" else "driver"
        for day, code in zip(drawn.recorded_on, drawn.golfers, strict=True)
    )
    found = admit_labs(replace(drawn, clubs=clubs), BOTH, set())
    verdicts = {(one.club, one.lab): one.admitted for one in found.labs}
    assert verdicts[("driver", "south")] is False  # only four golfers are left to link it
    assert verdicts[("iron 7", "south")] is True  # of the iron it is the reference itself
    assert found.reference["iron 7"] == "south"


def test_rows_of_a_pool_keep_every_column_together(pool):
    drawn = pool(6)
    mask = np.arange(len(drawn.swings)) % 3 == 0
    part = pool_rows(drawn, mask)
    kept = np.flatnonzero(mask)
    assert part.swings == tuple(drawn.swings[row] for row in kept)
    np.testing.assert_array_equal(part.features, drawn.features[kept])
    np.testing.assert_array_equal(part.curves_cm, drawn.curves_cm[kept])
