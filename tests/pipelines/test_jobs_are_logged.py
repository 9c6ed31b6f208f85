"""Jobs that change what is stored, or let it out, leave an entry in the log and name no golfer."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from types import SimpleNamespace

import pytest

from norms.errors import StoreRefused
from norms.records import FileOutcome, Golfer
from norms.records.consent import Consent
from pipelines.audit import collected, read_log
from pipelines.exclude import exclude, readmit
from pipelines.place_sheet import place_sheet
from pipelines.read_capture import PlaceRequest
from pipelines.store import open_store

ADULT = Golfer(code="Q0001", hand="right", birth_year=1980)


@pytest.fixture
def store():
    with open_store(":memory:") as opened:
        opened.add_golfers([ADULT])
        yield opened


def said(store, *actions):
    """Lines of these actions: who, and what is said beside the digests of the tables."""
    lines = [(e.action, e.who, json.loads(e.details)) for e in read_log(store).entries]
    return [
        (action, who, {key: value for key, value in details.items() if key != "tables"})
        for action, who, details in lines
        if action in actions
    ]


def test_leaving_out_and_taking_in_stand_under_the_same_pseudonym(store):
    exclude(store, golfer="Q0001", reason="ill", decided_by="head coach")
    readmit(store, golfer="Q0001", reason="well", decided_by="physio")
    (first, second) = said(store, "exclude", "readmit")
    assert first[:2] == ("exclude", "head coach")
    assert second[:2] == ("readmit", "physio")
    assert first[2]["golfer"] == second[2]["golfer"]
    assert (first[2]["why"], second[2]["why"]) == ("ill", "well")
    assert "Q0001" not in json.dumps(first[2])
    assert read_log(store).golfers == {first[2]["golfer"]: "Q0001"}


def test_a_decision_that_is_refused_leaves_no_entry(store):
    with pytest.raises(StoreRefused):
        exclude(store, golfer="Q0002", reason="ill", decided_by="head coach")
    assert said(store, "exclude") == []


def test_collecting_is_logged_by_what_became_of_the_files(store):
    outcomes = [
        FileOutcome(source=f"Q0001_{n}.c3d", lab="North bay", status=status, code="x",
                    message="Q0001", content_hash=f"{n}")
        for n, status in enumerate(("accepted", "accepted", "rejected"))
    ]  # fmt: skip
    first = collected("North bay", outcomes)
    again = collected("North bay", list(reversed(outcomes)))
    other = collected("North bay", [replace(outcomes[0], content_hash="f")])
    assert first["lab"] == "North bay"
    assert first["files"] == {"accepted": 2, "rejected": 1}
    assert first["sha256"] == again["sha256"] != other["sha256"]


def test_a_golfer_who_refused_coaching_is_not_placed(store, monkeypatch, tmp_path):
    class Reached(Exception):
        """The swing was about to be placed."""

    def reached(*_):
        raise Reached

    monkeypatch.setattr("pipelines.place_sheet.candidates", lambda *_: [])
    monkeypatch.setattr("pipelines.place_sheet.read_candidates", lambda *_: (None, ADULT))
    monkeypatch.setattr("pipelines.placing.ground_of", lambda *_: SimpleNamespace(edition=None))
    monkeypatch.setattr("pipelines.edition_terms.in_edition_terms", reached)
    request = PlaceRequest(capture=tmp_path / "any.c3d", edition="spring")
    with pytest.raises(Reached):
        place_sheet(store, request, look_alikes=False)
    no = Consent(golfer="Q0001", purpose="coaching", given=False, decided_on=date(2026, 1, 1))
    store.consents.add([no])
    with pytest.raises(StoreRefused, match="no consent to coaching"):
        place_sheet(store, request, look_alikes=False)


def test_the_time_of_an_entry_is_utc(store):
    before = datetime.now(UTC).replace(tzinfo=None)
    store.audit.record("collect", "coach", {})
    (*_, entry) = store.audit.entries()
    assert before <= entry.at <= datetime.now(UTC).replace(tzinfo=None)
