"""Undo: the newest act first, in order, exactly as it was, with its own line in the log."""

from datetime import UTC, date, datetime

import pytest

from norms.errors import NormsError, StoreRefused
from norms.records import BallSpeed, DatedHandicap, Exclusion, Golfer
from norms.records.consent import Consent
from norms.records.progress import GolferEvent
from pipelines.audit import read_log
from pipelines.erase_golfer import erase_golfer
from pipelines.store import open_store
from pipelines.take_back import undo_last

ADULT = Golfer(
    code="Q0001",
    hand="right",
    birth_year=1980,
    height_cm=180.4,
    handicaps=(DatedHandicap(since=date(2026, 1, 1), index=-1.3),),
)
SIGNED = {"who": "office", "why": "typed wrongly"}


@pytest.fixture
def store():
    with open_store(":memory:") as opened:
        with opened.act("roster", who="office"):
            opened.add_golfers([ADULT, Golfer(code="Q0002", hand="left")])
        yield opened


def state(store):
    return (
        {
            code: (one.hand, one.height_cm, one.handicaps, one.consents_norms)
            for code, one in store.golfers().items()
        },
        store.consents.by_golfer(),
        store.ball_speeds(),
        store.golfer_shelf.events("Q0001"),
        [(one.exclusion, one.stands) for one in store.exclusions()],
        store.setting("academy"),
    )


ACTS = {
    "golfer": lambda s: s.add_golfers([Golfer(code="Q0001", hand="left", height_cm=18.0)]),
    "consent": lambda s: s.consents.add(
        [Consent(golfer="Q0001", purpose="norms", given=False, decided_on=date(2026, 2, 1))]
    ),
    "speed": lambda s: s.add_ball_speeds([BallSpeed(swing="S1", ball_speed_mps=60.1)]),
    "mark": lambda s: s.golfer_shelf.mark(
        GolferEvent(golfer="Q0001", day=date(2026, 3, 1), kind="lesson")
    ),
    "exclusion": lambda s: s.add_exclusion(
        Exclusion(golfer="Q0001", swing=None, reason="ill", decided_by="coach"), datetime.now(UTC)
    ),
    "setting": lambda s: s.set_setting("academy", {"smallest_cell": 9}),
}


@pytest.mark.parametrize("name", ACTS)
def test_each_kind_of_entry_is_put_back_and_brought_again(store, name):
    before = state(store)
    with store.act(name, who="coach"):
        ACTS[name](store)
    after = state(store)
    assert after != before
    undone = undo_last(store, **SIGNED)
    assert state(store) == before
    assert (undone.action, undone.who) == (name, "coach")
    undo_last(store, **SIGNED, act=store.audit.entries()[-1].number)
    assert state(store) == after
    assert read_log(store).faults == ()


def test_acts_are_undone_in_order_newest_first(store):
    states = [state(store)]
    for name, act in ACTS.items():
        with store.act(name):
            act(store)
        states.append(state(store))
    for expected in states[-2::-1]:
        undo_last(store, **SIGNED)
        assert state(store) == expected
    undo_last(store, **SIGNED)  # the roster itself
    assert store.golfers() == {}
    with pytest.raises(StoreRefused, match="no act left"):
        undo_last(store, **SIGNED)
    assert read_log(store).faults == ()


def test_what_was_changed_since_is_not_put_back(store):
    for handed in ("left", "right"):
        with store.act("roster"):
            store.add_golfers([Golfer(code="Q0002", hand=handed, height_cm=170.0)])
    first = store.audit.entries()[-2].number
    before = (state(store), len(store.audit.entries()))
    with pytest.raises(StoreRefused, match="has been changed since"):
        undo_last(store, **SIGNED, act=first)
    assert (state(store), len(store.audit.entries())) == before


def test_an_act_is_undone_once(store):
    with store.act("settings"):
        store.set_setting("academy", {"smallest_cell": 9})
    number = store.audit.entries()[-1].number
    undo_last(store, **SIGNED)
    with pytest.raises(StoreRefused, match="undone already"):
        undo_last(store, **SIGNED, act=number)


def test_an_undo_says_who_and_why(store):
    with pytest.raises(NormsError, match="why is empty"):
        undo_last(store, who="office", why=" ")


def test_nothing_from_before_an_erasure_comes_back(tmp_path):
    path = tmp_path / "academy.duckdb"
    with open_store(path, create=True) as opened:
        opened.add_golfers([ADULT, Golfer(code="Q0002", hand="left")])
        with opened.act("mark"):
            ACTS["mark"](opened)
    erase_golfer(path, "Q0001", why="asked for it", who="office")
    with open_store(path) as opened:
        for _ in range(3):
            with pytest.raises(StoreRefused):
                undo_last(opened, **SIGNED)
        assert "Q0001" not in opened.golfers()
        assert read_log(opened).faults == ()


def test_editions_built_meanwhile_are_named(store):
    with store.act("settings"):
        store.set_setting("academy", {"smallest_cell": 9})
    store.audit.record("build", "director", {"edition": "spring", "sha256": "0"})
    assert undo_last(store, **SIGNED).editions == ("spring",)
