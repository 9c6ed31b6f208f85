"""Commands of the duty of care, from a consent to the receipt of an erasure."""

import re
from datetime import date

import pytest
from typer.testing import CliRunner

from norms.errors import StoreRefused
from norms.records import Golfer
from norms.records.consent import Consent, ConsentStanding
from pipelines.cli import app
from pipelines.store import open_store
from reports.consent_tables import consents_table, renewal_sentences


@pytest.fixture
def store(tmp_path):
    path = tmp_path / "academy.duckdb"
    with open_store(path, create=True) as opened:
        opened.add_golfers(
            [
                Golfer(code="Q0001", hand="right", birth_year=1980),
                Golfer(code="Q0002", hand="left", birth_year=2000),
            ]
        )
    return path


def run(*words, code=0):
    result = CliRunner().invoke(app, [str(word) for word in words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == code, result.stderr
    return " ".join(result.stdout.split())


def test_consents_are_read_and_then_listed_with_whom_to_ask_anew(store, tmp_path):
    table = tmp_path / "consents.csv"
    table.write_text(
        "golfer,purpose,given,date,guardian\n"
        "Q0002,norms,yes,2016-05-01,true\n"
        "Q0001,research,no,2026-01-02,\n"
    )
    asked = "Q0002 is of age: a guardian agreed to norms on 2016-05-01, ask the golfer."
    told = run("consents", table, "--store", store, "--who", "office")
    assert "2 consents read into" in told
    assert asked in told
    listed = run("consents", "--store", store)
    assert "Q0001 yes, nothing read in yes, nothing read in no, 2026-01-02" in listed
    assert "yes, 2016-05-01 by a guardian" in listed
    assert asked in listed


def test_reading_consents_wants_to_know_who_reads_them(store, tmp_path):
    run("consents", tmp_path / "consents.csv", "--store", store, code=2)


def test_a_yes_that_does_not_count_is_not_listed_as_one():
    yes = Consent(golfer="Q", purpose="norms", given=True, decided_on=date(2026, 1, 1))
    standing = ConsentStanding(golfer="Q", purpose="norms", agreed=False, word=yes, to_renew=False)
    assert consents_table([standing])[1][1] == "no, though a yes was read in of 2026-01-01"
    assert renewal_sentences([standing]) == []


def test_a_receipt_is_found_by_the_key_that_was_given_and_by_no_other(store):
    told = run("erase", "Q0002", "--store", store, "--why", "asked", "--who", "data officer")
    receipt = re.search(r"receipt (\w+)", told).group(1)
    key = re.search(r"who is erased: (\w+)", told).group(1)
    assert receipt in run("receipts", "--store", store)
    assert receipt in run("receipts", "--store", store, "--golfer", "Q0002", "--key", key)
    with pytest.raises(StoreRefused, match="no receipt of"):
        run("receipts", "--store", store, "--golfer", "Q0001", "--key", key)
    run("receipts", "--store", store, "--golfer", "Q0001", code=2)


def test_a_restored_store_says_what_the_backup_did_not_know(store, tmp_path):
    backup = tmp_path / "backup.duckdb"
    assert "log: 3 entries" in run("backup", store, backup)  # made, golfers came, backup
    table = tmp_path / "consents.csv"
    table.write_text("golfer,purpose,given,date\nQ0001,research,no,2026-01-02\n")
    run("consents", table, "--store", store, "--who", "office")
    told = run("restore", backup, store, "--who", "keeper", "--replace")
    assert "1 newer consent kept" in told
    assert "not in the backup: 1 act in the replaced store's log" in told
    assert "no, 2026-01-02" in run("consents", "--store", store)
