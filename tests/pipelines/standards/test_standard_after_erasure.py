"""What is approved stays approved when a golfer of its evidence is erased."""

from datetime import date

import pytest

from norms.errors import StandardRefused
from pipelines.erase_golfer import erase_golfer
from pipelines.manage_standard import (
    approve_standard,
    draft_standard,
    edition_of,
    review_standard,
)
from pipelines.settings import Settings, keep_settings
from pipelines.store import open_store

SIGNED = {"role": "director", "reason": "agreed with the coaches", "on": date(2026, 6, 10)}
AGREED = SIGNED | {"role": "academy director"}


@pytest.fixture
def path(tmp_path, make):
    place = tmp_path / "academy.duckdb"
    with open_store(place, create=True) as store:
        make.fill(store)
        for name in ("driver_2026", "waiting"):
            draft_standard(store, make.request(tmp_path / f"{name}.toml", name=name))
            review_standard(store, tmp_path / f"{name}.toml", **SIGNED)
        approve_standard(store, "driver_2026", **AGREED)
    return place


def test_an_approved_standard_stays_in_force_and_a_waiting_one_is_to_be_drafted_anew(path):
    erased = erase_golfer(path, "Q0003", why="asked", who="data officer")
    assert erased.standards == ("driver_2026", "waiting")
    erase_golfer(path, "Q0005", why="asked", who="data officer")
    with open_store(path) as store:
        kept = store.standards.standard("driver_2026")
        assert kept.decisions[-1].state == "approved"
        assert edition_of(store, kept.standard).cell("driver/to_12").counts[0] == 62
        with pytest.raises(StandardRefused):
            approve_standard(store, "waiting", **AGREED)


def test_a_standard_on_a_withdrawn_edition_is_refused(path):
    with open_store(path) as store:
        keep_settings(store, Settings(erased_from_editions="withdraw"))
    erase_golfer(path, "Q0003", why="asked", who="data officer")
    with open_store(path) as store, pytest.raises(StandardRefused, match="retire the standard"):
        edition_of(store, store.standards.standard("driver_2026").standard)


def test_an_edition_changed_in_any_other_way_is_refused(path):
    erase_golfer(path, "Q0003", why="asked", who="data officer")
    with open_store(path) as store:
        store._database.script("UPDATE edition SET content_hash = repeat('0', 64)")
        with pytest.raises(StandardRefused, match="retire the standard"):
            edition_of(store, store.standards.standard("driver_2026").standard)
