"""The log: only added to, without codes, and every change inside it is found."""

import dataclasses
import json
from datetime import UTC, datetime

import pytest

from norms.errors import StoreRefused
from pipelines.audit import log_edition, read_log, refuse_broken_log
from pipelines.store import open_store
from pipelines.store.audit import chain_fault


@pytest.fixture
def logged(store):
    for number in range(4):
        moment = datetime(2026, 10, 1, 12, number, tzinfo=UTC)
        store.audit.record("collect", "coach", {"files": {"accepted": number}}, at=moment)
    store.audit.record("exclude", "head coach", {"of": "golfer"}, golfer="Q0001")
    return store


def test_entries_come_back_in_order_and_the_chain_holds(logged):
    reading = read_log(logged)
    assert [entry.number for entry in reading.entries] == [1, 2, 3, 4, 5]
    assert json.loads(reading.entries[2].details) == {"files": {"accepted": 2}}
    assert reading.faults == ()
    assert reading.newest_hash == reading.entries[-1].hash


def test_a_golfer_stands_by_a_pseudonym_that_is_always_the_same(logged):
    logged.audit.record("readmit", "head coach", {"of": "golfer"}, golfer="Q0001")
    first, second = (json.loads(e.details)["golfer"] for e in logged.audit.entries()[-2:])
    assert first == second != "Q0001"
    assert read_log(logged).golfers == {first: "Q0001"}


@pytest.mark.parametrize(
    ("sql", "fault"),
    [
        ("UPDATE audit_log SET who = 'nobody' WHERE number = 3", "entry 3 was changed"),
        ("UPDATE audit_log SET details = '{}' WHERE number = 1", "entry 1 was changed"),
        ("UPDATE audit_log SET done_at = now()::TIMESTAMP WHERE number = 2", "entry 2 was changed"),
        ("DELETE FROM audit_log WHERE number = 2", "entry 2 is missing"),
        ("DELETE FROM audit_log WHERE number = 1", "entry 1 is missing"),
        ("UPDATE audit_log SET hash = repeat('0', 64) WHERE number = 3", "entry 3 was changed"),
        (
            "DELETE FROM audit_log WHERE number = 3;"
            "UPDATE audit_log SET number = number - 1 WHERE number > 3",
            "entry 3 does not follow",
        ),
    ],
)
def test_tampering_is_evident_and_placed(logged, sql, fault):
    logged._database.script(sql)
    (found,) = read_log(logged).faults
    assert fault in found
    with pytest.raises(StoreRefused, match="does not hold together"):
        refuse_broken_log(logged)


def test_an_end_cut_off_is_found_by_a_hash_noted_elsewhere(logged):
    noted = read_log(logged).newest_hash
    assert read_log(logged, expected=noted).faults == ()
    logged._database.script("DELETE FROM audit_log WHERE number = 5")
    assert read_log(logged).faults == ()  # the chain alone cannot show it
    (found,) = read_log(logged, expected=noted).faults
    assert "cut off or written anew" in found


def test_every_part_of_an_entry_is_under_its_hash(logged):
    entries = logged.audit.entries()
    changed = {"number": 9, "at": datetime(2020, 1, 1), "who": "x", "action": "x", "details": "x",
               "previous": "x", "hash": "x"}  # fmt: skip
    for name, value in changed.items():
        forged = [*entries[:1], dataclasses.replace(entries[1], **{name: value}), *entries[2:]]
        assert chain_fault(forged) is not None, name


def test_an_edition_changed_behind_the_log_is_named(store, make_edition):
    edition = make_edition("spring")
    store.save_edition(edition, datetime(2026, 10, 1, tzinfo=UTC))
    log_edition(store, "build", "spring", edition.content_hash, "director")
    log_edition(store, "build", "spring", edition.content_hash, "director")
    assert len(store.audit.entries()) == 1  # built again without change
    assert read_log(store).faults == ()
    store._database.script("UPDATE edition SET content_hash = 'other'")
    (found,) = read_log(store).faults
    assert "edition spring has the hash other" in found


def test_the_log_goes_on_where_it_was_in_the_next_process(tmp_path):
    for _ in range(2):
        with open_store(tmp_path / "academy.duckdb", create=True) as store:
            store.audit.record("collect", "coach", {})
    with open_store(tmp_path / "academy.duckdb") as store:
        assert [entry.number for entry in read_log(store).entries] == [1, 2]
        assert read_log(store).faults == ()
