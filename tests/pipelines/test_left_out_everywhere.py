"""What a person left out, and who withdrew consent, is out of every use, or the page says so."""

import shutil
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from norms.errors import NormsError, StoreRefused
from norms.records import Golfer
from norms.records.consent import Consent
from norms.records.study import StudyFrame
from pipelines.answer_features import answer_features
from pipelines.build_edition import build_edition
from pipelines.check_labs import check_labs
from pipelines.consents import counted_without_consent
from pipelines.exclude import counted_though_excluded, exclude, readmit
from pipelines.export_edition import export_edition
from pipelines.lab_profiles import keep_profile
from pipelines.lab_standing import lab_standing
from pipelines.match_peers import match_peers
from pipelines.place_roster import place_roster
from pipelines.placing import edition_words, history_in, refuse_excluded
from pipelines.plan_cohort import plan_cohort
from pipelines.settings import Settings, keep_settings
from pipelines.store import open_store
from pipelines.track_progress import HEALTH_WORDS, mark_event, track_progress
from reports.check_page import check_lead

FIRST, SECOND = date(2026, 5, 1), date(2026, 6, 1)
NOW = datetime(2026, 6, 2, tzinfo=UTC)
BY = {"reason": "wore a brace", "decided_by": "head coach"}
PLACED = "Q0004"
"""An adult who swings on two days."""


def says(golfer, purpose, given=True, *, day=FIRST, guardian=True):
    return Consent(golfer=golfer, purpose=purpose, given=given, decided_on=day, guardian=guardian)


@pytest.fixture(scope="module")
def built(tmp_path_factory, small_academy, swing_with, north_bay):
    path = tmp_path_factory.mktemp("left_out") / "academy.duckdb"
    pool = small_academy.pool
    with open_store(path, create=True) as store:
        keep_profile(store, north_bay)
        store.add_golfers(list(small_academy.golfers.values()))
        purposes = ("coaching", "norms", "research", "shown")
        store.consents.add([says(one, what) for one in small_academy.golfers for what in purposes])
        swings = [
            swing_with(
                code if day == FIRST else f"{code}-later",
                pool.golfers[row],
                pool.curves_cm[row],
                dict(zip(pool.feature_names, pool.features[row].tolist(), strict=True)),
                recorded_on=day,
            )
            for row, code in enumerate(pool.swings)
            for day in (FIRST, SECOND)
            if pool.clubs[row] == "driver" and (day == FIRST or row < 40)
        ]
        store.add_swings(swings, [], store.begin_run("North bay", NOW))
        build_edition(store, "spring")
    return path


@pytest.fixture
def store(built, tmp_path):
    with open_store(shutil.copy(built, tmp_path / "academy.duckdb")) as opened:
        yield opened


def leave_out(store, **what):
    exclude(store, **what, **BY)


def swings_of(store, golfer, day=SECOND):
    pool = store.swing_pool()
    rows = zip(pool.swings, pool.golfers, pool.recorded_on, strict=True)
    return [code for code, who, on in rows if (who, on) == (golfer, day)]


def placed(store, golfer=PLACED, **choices):
    return dict(place_roster(store, "spring", club="driver", **choices))[golfer]


def test_a_swing_left_out_does_not_count_in_its_golfers_own_placement(store):
    first, second = swings_of(store, PLACED)
    assert placed(store).swings == (first, second)
    leave_out(store, swing=first)
    place = placed(store)
    assert place.swings == (second,)
    assert any("1 of this golfer's swings with this club is left out" in c for c in cautions(place))
    readmit(store, swing=first, reason="was no brace", decided_by="head coach")
    assert placed(store).swings == (first, second)


def cautions(place):
    return place.placement.cautions


def test_with_a_session_left_out_the_one_before_is_the_newest_and_with_all_nobody_is_placed(store):
    for code in swings_of(store, PLACED):
        leave_out(store, swing=code)
    assert placed(store).placement.swing.label.recorded_on == FIRST
    for code in swings_of(store, PLACED, FIRST):
        leave_out(store, swing=code)
    found = placed(store)
    assert isinstance(found, NormsError)
    assert "every swing with driver is left out by a person's decision" in found.message


def test_a_capture_of_a_swing_left_out_is_not_placed_under_any_name(store):
    code = swings_of(store, PLACED)[0]
    swing = store.swing(code)
    refuse_excluded(store, [swing])
    leave_out(store, swing=code)
    renamed = replace(swing, label=replace(swing.label, swing="another"))
    for one in (swing, renamed):
        with pytest.raises(StoreRefused, match=f"swing {code}: is left out by head coach: wore a"):
            refuse_excluded(store, [one])


def test_a_golfer_left_out_of_norms_is_placed_and_the_page_says_so(store):
    leave_out(store, golfer=PLACED)
    assert any("left out of norms by a person's decision" in one for one in cautions(placed(store)))


def test_progress_is_without_the_swings_left_out(store):
    before = track_progress(store, PLACED, "spring", club="driver")
    assert [one.swings for one in before.sessions] == [2, 2]
    leave_out(store, swing=swings_of(store, PLACED)[0])
    after = track_progress(store, PLACED, "spring", club="driver")
    assert [one.swings for one in after.sessions] == [2, 1]
    assert any("left out by a person's decision, here as" in one for one in after.cautions)


def test_look_alikes_are_without_who_was_left_out_and_who_withdrew(store):
    near = [one.golfer for one in placed(store, look_alikes=True).look_alikes.group]
    leave_out(store, golfer=near[0])
    store.consents.add([says(near[1], "norms", False, day=SECOND)])
    store.consents.add([says(near[2], "shown", False, day=SECOND)])
    left = [one.golfer for one in placed(store, look_alikes=True).look_alikes.group]
    assert not {near[0], near[1], near[2]} & set(left)
    assert left[0] is None  # the third nearest counts, and is not named
    swing = swings_of(store, near[3], FIRST)[0]
    leave_out(store, swing=swing)
    assert swing not in history_in(store).pool.swings


def test_no_peer_is_held_against_a_swing_left_out_or_of_who_refused_coaching(store):
    swing, other = swings_of(store, PLACED)
    match_peers(store, swing, exclusions=[])
    leave_out(store, swing=swing)
    with pytest.raises(StoreRefused, match="is left out by head coach"):
        match_peers(store, swing, exclusions=[])
    store.consents.add([says(PLACED, "coaching", False, day=SECOND)])
    with pytest.raises(StoreRefused, match="no consent to coaching"):
        match_peers(store, other, exclusions=[])


def test_the_check_of_the_labs_looks_at_swings_left_out_and_says_so(store):
    before = check_labs(store)
    leave_out(store, swing=swings_of(store, PLACED)[0])
    leave_out(store, golfer="Q0050")
    after = check_labs(store)
    assert sum(one.swings for one in after.sessions) == sum(one.swings for one in before.sessions)
    assert any(
        "3 swings left out of norms by a person's decision are looked at here" in one
        for one in check_lead(after)
    )
    assert after.noise["driver"].swings == before.noise["driver"].swings - 3


def test_the_noise_budget_and_labs_terms_rest_on_golfers_who_agree_to_norms(store):
    store.consents.add([says(PLACED, "norms", False, day=SECOND)])
    standing = lab_standing(store)
    assert PLACED in standing.norms_pool.golfers
    assert PLACED not in standing.counted_pool.golfers
    assert PLACED not in build_edition(store, "summer").cells[0].cohort.golfers


def test_an_edition_says_whom_it_still_counts(store):
    edition = store.edition("spring")
    assert edition_words(store, edition) == ()
    leave_out(store, golfer="Q0050")
    leave_out(store, swing=swings_of(store, PLACED)[0])
    store.consents.add([says("Q0006", "norms", False, day=SECOND)])
    unwilling, excluded = edition_words(store, edition)
    assert "counts 1 golfer who does not agree to norms today" in unwilling
    assert "left out 1 golfer and 1 swing, and counts them still" in excluded
    newer = build_edition(store, "summer")
    assert counted_though_excluded(store, newer) == ()
    assert counted_without_consent(store, newer) == []


def test_an_edition_that_counts_who_does_not_agree_any_more_is_not_shared(store, tmp_path):
    store.consents.add([says(code, "norms", False, day=SECOND) for code in ("Q0006", "Q0008")])
    with pytest.raises(StoreRefused, match="counts 2 golfers who do not agree"):
        export_edition(store, "spring", tmp_path / "out")
    assert not (tmp_path / "out").exists()
    build_edition(store, "summer")
    assert export_edition(store, "summer", tmp_path / "out")


def test_who_was_left_out_is_not_to_be_recruited(store):
    def invited():
        return {code for row in plan_cohort(store, "spring").rows for code in row.invite}

    store.add_golfers([Golfer(code="Q0900", hand="right", birth_year=1980)])
    assert "Q0900" in invited()
    leave_out(store, golfer="Q0900")
    assert "Q0900" not in invited()


def test_a_cohort_of_features_is_asked_without_who_refused_or_was_left_out(store, feature_frame):
    store.save_feature_cohort("elsewhere", feature_frame)
    assert answer_features(store, "elsewhere").left_out == {}
    store.consents.add([says("Q0006", "norms", False, day=SECOND)])
    leave_out(store, golfer="Q0008")
    found = answer_features(store, "elsewhere")
    assert found.left_out == {
        "golfer did not agree to norms": 1,
        "left out by a person's decision": 1,
    }
    assert found.bands.golfers.max() == len(set(feature_frame.golfers)) - 2


@pytest.fixture
def feature_frame(small_academy):
    golfers = (*sorted(small_academy.golfers)[:40], "stranger")
    count = len(golfers)
    return StudyFrame(
        swings=tuple(f"F{number}" for number in range(count)),
        golfers=golfers,
        clubs=("driver",) * count,
        labs=("elsewhere",) * count,
        ball_speed_mps=np.full(count, 60.0),
        club_speed_mps=np.full(count, np.nan),
        golfer_facts={},
        feature_names=("rise",),
        feature_labels=("rise",),
        feature_units=("cm",),
        features=np.arange(float(count))[:, None],
    )


# Notes on health


def test_an_injury_is_not_written_down_without_consent_to_that(store):
    mark_event(store, PLACED, SECOND, "lesson", "posture")
    for kind, note, health in (
        ("injury", None, False),
        ("lesson", "the back hurts", False),
        ("appointment", None, True),
    ):
        with pytest.raises(StoreRefused, match="no consent to health; ask for it and read it in"):
            mark_event(store, PLACED, SECOND, kind, note, health=health)
    assert [one.kind for one in store.golfer_shelf.events(PLACED)] == ["lesson"]
    store.consents.add([says(PLACED, "coaching", False, day=SECOND)])
    with pytest.raises(StoreRefused, match="no consent to coaching"):
        mark_event(store, PLACED, SECOND, "lesson")


@pytest.fixture
def injured(store):
    store.consents.add([says(PLACED, "health")])
    mark_event(store, PLACED, FIRST + timedelta(days=9), "injury", "left wrist")
    return store


def test_pages_say_that_a_note_is_on_record_and_never_what_it_says(injured):
    progress = track_progress(injured, PLACED, "spring", club="driver")
    (event,) = progress.events
    assert (event.kind, event.note) == ("health note on record", None)
    line = "A note on this golfer's health of 2026-05-10 is on record"
    assert any(one.startswith(line) for one in progress.cautions)
    assert any(one.startswith(line) for one in cautions(placed(injured)))
    for golfer, place in place_roster(injured, "spring", club="driver"):
        told = " ".join(cautions(place))
        assert "wrist" not in told
        assert (line in told) == (golfer == PLACED)


def test_its_words_are_read_by_who_may_and_the_log_keeps_it(injured):
    def read(who):
        return track_progress(injured, PLACED, "spring", club="driver", health_reader=who)

    progress = read("head coach")
    assert [(one.kind, one.note) for one in progress.events] == [("injury", "left wrist")]
    assert HEALTH_WORDS in progress.cautions
    entry = injured.audit.entries()[-1]
    assert (entry.action, entry.who) == ("read health", "head coach")
    assert PLACED not in entry.details
    keep_settings(injured, Settings(health_readers=("physiotherapist",)))
    with pytest.raises(StoreRefused, match="not read by head coach; the settings allow physioth"):
        read("head coach")
    assert read("physiotherapist").events[0].note == "left wrist"


def test_after_a_withdrawal_a_note_is_used_no_more(injured):
    injured.consents.add([says(PLACED, "health", False, day=SECOND)])
    progress = track_progress(injured, PLACED, "spring", club="driver")
    assert progress.events == ()
    assert not any("health" in one for one in progress.cautions)
    with pytest.raises(StoreRefused, match="no consent to health"):
        track_progress(injured, PLACED, "spring", club="driver", health_reader="head coach")
