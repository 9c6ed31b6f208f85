from dataclasses import replace
from datetime import date

import numpy as np

from norms.placement.golfer_mean import mean_of_swings
from norms.placement.lookalikes import find_look_alikes


def alikes(ground, swing, *, shown=None, levels=None, **choices):
    cohort = ground.edition.cell("driver/all").cohort
    components = ground.placing.shapes.components["driver"]
    named = cohort.golfers if shown is None else shown
    history = replace(
        ground.history, shown=frozenset(named), levels=levels or ground.history.levels
    )
    return find_look_alikes(mean_of_swings([swing]), cohort, components, history, **choices)


def test_the_nearest_come_first_and_are_those_by_scores(ground, swing_at):
    found = alikes(ground, swing_at(0))
    assert len(found.group) == 5
    distances = [one.distance for one in found.group]
    assert distances == sorted(distances)
    cohort = ground.edition.cell("driver/all").cohort
    components = ground.placing.shapes.components["driver"]
    own = components.scores(ground.pool.curves_cm[0])
    apart = np.linalg.norm(components.scores(cohort.curves_cm) - own, axis=1)
    order = [cohort.golfers[place] for place in np.argsort(apart)]
    assert [one.golfer for one in found.group] == [c for c in order if c != "Q0000"][:5]


def test_they_know_level_ball_speed_and_what_changed(ground, swing_at):
    first = alikes(ground, swing_at(0)).group[0]
    assert first.level == "handicap over 5, to 12"
    assert 60 <= first.ball_speed_mps <= 66
    assert first.next_change_cm is not None


def test_who_did_not_agree_to_be_shown_counts_and_is_not_named(ground, swing_at):
    everyone = alikes(ground, swing_at(0))
    willing = everyone.group[1].golfer
    found = alikes(ground, swing_at(0), shown=[willing])
    assert [one.golfer for one in found.group] == [None, willing, None, None, None]
    assert [one.distance for one in found.group] == [one.distance for one in everyone.group]


def test_who_may_not_be_held_against_others_is_no_look_alike(ground, swing_at):
    nearest = alikes(ground, swing_at(0)).group[0].golfer
    levels = {code: level for code, level in ground.history.levels.items() if code != nearest}
    found = alikes(ground, swing_at(0), levels=levels)
    assert nearest not in [one.golfer for one in found.group]


def test_nobody_is_shown_in_a_group_of_fewer_than_may_be(ground, swing_at):
    found = alikes(ground, swing_at(0), smallest_cell=60)
    assert found.group == ()
    assert found.withheld == "59 earlier golfers; look-alikes are shown in groups of 60 or more"


def test_golfers_without_an_earlier_swing_are_not_earlier(ground, swing_at):
    found = alikes(ground, swing_at(0, day=date(2025, 1, 1)))
    assert found.group == ()
    assert found.withheld.startswith("0 earlier golfers")
