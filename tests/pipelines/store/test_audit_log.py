"""The log: only added to, without codes, and every change inside it is found."""

import dataclasses
import json
from datetime import UTC, datetime

import pytest

from norms.errors import StoreRefused
from pipelines.audit import edition_said, read_log, refuse_broken_log
from pipelines.store import open_store
from pipelines.store.audit import chain_fault


def behind_the_log(store, sql):
    """Change a store as somebody would who opens its file with other means."""
    store._database._connection.execute(sql)


@pytest.fixture
def logged(store):
    """Entry 1 is the making of the store, 2 that golfers came; then these."""
    for number in range(4):
        moment = datetime(2036, 10, 1, 12, number, tzinfo=UTC)
        store.audit.record("collect", "coach", {"files": {"accepted": number}}, at=moment)
    store.audit.record("exclude", "head coach", {"of": "golfer"}, golfer="Q0001")
    return store


def test_entries_come_back_in_order_and_the_chain_holds(logged):
    reading = read_log(logged)
    assert [entry.number for entry in reading.entries] == [1, 2, 3, 4, 5, 6, 7]
    assert json.loads(reading.entries[4].details) == {"files": {"accepted": 2}}
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
        ("DELETE FROM audit_log", "it is empty"),
        ("UPDATE audit_log SET done_at = done_at - INTERVAL 10 YEAR WHERE number = 5", "changed"),
        ("UPDATE audit_log SET hash = repeat('0', 64) WHERE number = 3", "entry 3 was changed"),
        (
            "DELETE FROM audit_log WHERE number = 3;"
            "UPDATE audit_log SET number = number - 1 WHERE number > 3",
            "entry 3 does not follow",
        ),
    ],
)
def test_tampering_is_evident_and_placed(logged, sql, fault):
    behind_the_log(logged, sql)
    found = read_log(logged).faults[0]
    assert fault in found
    with pytest.raises(StoreRefused, match="does not hold together"):
        refuse_broken_log(logged)


def test_an_end_cut_off_is_found_by_a_hash_noted_elsewhere(logged):
    noted = read_log(logged).newest_hash
    assert read_log(logged, expected=noted).faults == ()
    behind_the_log(logged, "DELETE FROM audit_log WHERE number > 3")
    found = read_log(logged, expected=noted).faults[0]
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
    before = len(store.audit.entries())
    for _ in range(2):
        with store.act("build", details=edition_said(edition), silent_unchanged=True):
            store.save_edition(edition, datetime(2026, 10, 1, tzinfo=UTC))
    assert len(store.audit.entries()) == before + 1  # built again without change
    assert read_log(store).faults == ()
    behind_the_log(store, "UPDATE edition SET content_hash = 'other'")
    found = read_log(store).faults
    assert any("edition spring has the hash other" in one for one in found)


def test_the_log_goes_on_where_it_was_in_the_next_process(tmp_path):
    for _ in range(2):
        with open_store(tmp_path / "academy.duckdb", create=True) as store:
            store.audit.record("collect", "coach", {})
    with open_store(tmp_path / "academy.duckdb") as store:
        assert [entry.number for entry in read_log(store).entries] == [1, 2, 3]
        assert read_log(store).faults == ()
