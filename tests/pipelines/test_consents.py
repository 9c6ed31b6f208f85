"""Consent by golfer and purpose: read, refused with line numbers, and honoured by every cohort."""

import json
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.errors import StoreRefused, TableRefused
from norms.records import Golfer
from norms.records.consent import (
    PURPOSES,
    Consent,
    agreed,
    is_junior,
    needs_guardian,
    newest,
    to_be_renewed,
)
from pipelines.consents import (
    consenting,
    import_consents,
    may_be_measured,
    refuse_without_consent,
    standing_consents,
    without_birth_year,
)
from pipelines.store import open_store
from reports.consent_tables import standing_sentences

TODAY = date(2026, 10, 1)


@pytest.fixture
def store():
    with open_store(":memory:") as opened:
        opened.add_golfers(
            [
                Golfer(code="Q0001", hand="right", birth_year=1980),
                Golfer(code="Q0002", hand="right", birth_year=2012),
                Golfer(code="Q0003", hand="left", consents_norms=False),
                Golfer(code="Q0004", hand="left", birth_year=2006),
            ]
        )
        yield opened


@pytest.fixture
def read(store, tmp_path):
    def read_rows(*rows, header="golfer,purpose,given,date,guardian"):
        table = tmp_path / "consents.csv"
        table.write_text("\n".join([header, *rows, ""]))
        return import_consents(store, table, who="office", today=TODAY)

    return read_rows


def norms_yes(store):
    return [code for code, golfer in store.golfers().items() if golfer.consents_norms]


def test_without_a_word_the_roster_decides_on_norms_and_all_but_coaching_needs_a_yes(store):
    assert norms_yes(store) == ["Q0001", "Q0004"]
    assert list(consenting(store, "coaching")) == ["Q0001", "Q0003", "Q0004"]
    assert list(consenting(store, "norms")) == ["Q0001", "Q0004"]
    for purpose in ("research", "shown", "health"):
        assert consenting(store, purpose) == {}


def test_of_a_junior_nothing_may_be_used_until_a_guardian_says_so(store, read):
    assert [code for code, one in store.golfers().items() if one.needs_guardian] == ["Q0002"]
    assert "Q0002" not in may_be_measured(store)
    for purpose in PURPOSES:
        with pytest.raises(StoreRefused, match=f"no guardian's word on {purpose} is recorded"):
            refuse_without_consent(store, "Q0002", purpose)
        read(f"Q0002,{purpose},yes,2026-09-01,true")
        refuse_without_consent(store, "Q0002", purpose)
    assert "Q0002" in may_be_measured(store)
    assert not store.golfer("Q0002").needs_guardian


def test_a_guardians_no_is_a_no_and_nobody_is_waited_for(store, read):
    read("Q0002,norms,no,2026-09-01,true")
    golfer = store.golfer("Q0002")
    assert not golfer.consents_norms
    assert not golfer.needs_guardian


def test_a_golfer_without_a_year_of_birth_is_taken_to_be_of_age_and_named(store):
    assert without_birth_year(store) == ["Q0003"]
    assert "Q0003" in consenting(store, "coaching")
    (waiting, unknown, health) = standing_sentences(
        standing_consents(store, TODAY), without_birth_year(store), ["Q0001"]
    )
    assert waiting.endswith("left out: Q0002.")
    assert "taken to be of age: Q0003" in unknown
    assert "Q0001; ask, or take the note out" in health


def test_the_newest_word_counts_whatever_order_it_came_in(store, read):
    assert read("Q0001,norms,no,2026-09-01,", "Q0001,norms,yes,2026-03-01,") == 2
    assert norms_yes(store) == ["Q0004"]
    read("Q0001,norms,yes,2026-09-20,")
    assert norms_yes(store) == ["Q0001", "Q0004"]


def test_a_no_in_the_roster_is_not_overruled(store, read):
    read("Q0003,norms,yes,2026-09-01,")
    assert norms_yes(store) == ["Q0001", "Q0004"]


def test_purposes_are_apart(store, read):
    read("Q0001,research,yes,2026-09-01,", "Q0001,coaching,no,2026-09-01,")
    assert list(consenting(store, "research")) == ["Q0001"]
    assert "Q0001" not in consenting(store, "coaching")
    assert "Q0001" in norms_yes(store)


def test_a_use_without_consent_is_refused_by_name_of_the_purpose(store, read):
    read("Q0001,coaching,no,2026-09-01,")
    refuse_without_consent(store, "Q0004", "coaching")
    with pytest.raises(StoreRefused, match="Q0001: there is no consent to coaching"):
        refuse_without_consent(store, "Q0001", "coaching")


def test_a_junior_needs_a_guardian(store, read):
    with pytest.raises(TableRefused, match=r":2 guardian \"\": a junior's yes is given by a guard"):
        read("Q0002,norms,yes,2026-09-01,")
    read("Q0002,norms,yes,2026-09-01,true", "Q0002,research,no,2026-09-01,")
    assert "Q0002" in norms_yes(store)


def test_a_golfer_who_turns_out_to_be_a_junior_needs_a_guardian_from_then_on(store, read):
    read("Q0001,norms,yes,2026-09-01,")
    store.add_golfers([Golfer(code="Q0001", hand="right", birth_year=2011)])
    assert "Q0001" not in norms_yes(store)


def test_a_guardians_yes_is_due_for_renewal_when_the_golfer_is_of_age(store, read):
    read("Q0004,norms,yes,2022-05-01,true", "Q0002,norms,yes,2026-05-01,true")
    due = [one for one in standing_consents(store, TODAY) if one.to_renew]
    assert [(one.golfer, one.purpose, one.agreed) for one in due] == [("Q0004", "norms", True)]
    read("Q0004,norms,yes,2026-05-01,")
    assert not any(one.to_renew for one in standing_consents(store, TODAY))


def test_everyone_stands_somewhere_on_every_purpose(store, read):
    read("Q0001,research,yes,2026-09-01,", "Q0003,norms,yes,2026-09-01,")
    found = {(one.golfer, one.purpose): one for one in standing_consents(store, TODAY)}
    assert len(found) == 4 * len(PURPOSES)
    assert found["Q0001", "research"].agreed
    assert found["Q0001", "research"].word.decided_on == date(2026, 9, 1)
    assert not found["Q0002", "research"].agreed
    # The no in the roster stands, whatever was read in.
    assert not found["Q0003", "norms"].agreed
    assert found["Q0003", "norms"].word.given


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("Q0009,norms,yes,2026-09-01,", ':2 golfer "Q0009": is not on the roster'),
        ("Q0001,fame,yes,2026-09-01,", ':2 purpose "fame": allowed is coaching or norms or res'),
        ("Q0001,norms,maybe,2026-09-01,", ':2 given "maybe": allowed is true or false'),
        ("Q0001,norms,yes,2026-10-02,", ':2 date "2026-10-02": is after today'),
        ("Q0001,norms,yes,1.9.2026,", ':2 date "1.9.2026": is not a day'),
        ("Q0001,norms,,2026-09-01,", ':2 given "": must be filled in'),
    ],
)
def test_a_fault_is_named_and_nothing_is_read(store, read, row, says):
    with pytest.raises(TableRefused) as refused:
        read(row)
    assert says in str(refused.value)
    assert store.consents.by_golfer() == {}
    assert "consents" not in [entry.action for entry in store.audit.entries()]


def test_two_words_on_one_day_are_refused(read):
    with pytest.raises(TableRefused, match="is already in line 2"):
        read("Q0001,norms,yes,2026-09-01,", "Q0001,norms,no,2026-09-01,")


def test_reading_is_logged_by_counts(store, read):
    read("Q0001,norms,no,2026-09-01,", "Q0001,research,yes,2026-09-01,")
    (*_, entry) = store.audit.entries()
    assert (entry.action, entry.who) == ("consents", "office")
    said = json.loads(entry.details)
    assert (said["given"], said["refused"]) == (1, 1)


words = st.builds(
    Consent,
    golfer=st.just("Q0001"),
    purpose=st.sampled_from(PURPOSES),
    given=st.booleans(),
    decided_on=st.dates(date(2020, 1, 1), date(2026, 12, 31)),
    guardian=st.booleans(),
)


@given(consents=st.lists(words, max_size=8), year=st.none() | st.integers(1990, 2015))
def test_a_yes_always_goes_back_to_the_newest_word_of_who_may_give_it(consents, year):
    for purpose in PURPOSES:
        word = newest(consents, purpose)
        allowed = agreed(consents, purpose, year, TODAY)
        assert agreed(consents[::-1], purpose, year, TODAY) == allowed
        assert not (allowed and needs_guardian(consents, purpose, year, TODAY))
        if word is None:
            assert not (allowed and is_junior(year, TODAY))
        elif allowed:
            assert word.given
            assert word.guardian or not is_junior(year, word.decided_on)
            same_day = [
                c for c in consents if c.purpose == purpose and c.decided_on == word.decided_on
            ]
            assert all(c.given for c in same_day)


def test_a_guardian_is_never_asked_again_for_a_no():
    no = Consent(golfer="Q", purpose="norms", given=False, decided_on=TODAY, guardian=True)
    assert to_be_renewed([no], 2007, date(2030, 1, 1)) == []
