"""What a golfer is called never decides where a file lies."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.errors import NormsError, TableRefused
from norms.records import Golfer
from pipelines.codes import FileNames, check_edition_name, check_golfer, is_code
from pipelines.import_tables import import_roster
from pipelines.store import open_store

HEADER = "golfer,hand,professional,consents_norms\n"


@pytest.mark.parametrize("code", ["Q0001", "a", "9", "A.b-c_d", "x" * 64])
def test_codes_that_every_system_takes_are_allowed(code: str) -> None:
    assert is_code(code)
    check_golfer(code)


@pytest.mark.parametrize(
    "code",
    ["../../escaped", "..", ".hidden", "-x", "a/b", "a\\b", "=1+1", "a b", "Ö1", "Q0001\n", "",
     "x" * 65, "a\0b", "a\u202eb", "\u0410"],
)  # fmt: skip
def test_other_codes_are_refused(code: str, tmp_path: Path) -> None:
    with pytest.raises(NormsError, match="allowed in a code"):
        check_golfer(code)


def test_a_roster_brings_no_new_golfer_with_another_code(tmp_path: Path) -> None:
    roster = tmp_path / "roster.csv"
    roster.write_text(HEADER + "Q0001,right,no,yes\n../../escaped,right,no,yes\n")
    with open_store(":memory:") as store:
        with pytest.raises(TableRefused, match=r'roster.csv:3 golfer "../../escaped": allowed'):
            import_roster(store, roster)
        assert store.golfers() == {}


def test_a_golfer_of_before_the_rule_keeps_the_code_and_is_corrected_by_it(tmp_path: Path) -> None:
    roster = tmp_path / "roster.csv"
    roster.write_text(HEADER + "Ö 1,left,no,yes\n")
    with open_store(":memory:") as store:
        facts = {"professional": False, "consents_norms": True}
        store.add_golfers([Golfer(code="Ö 1", hand="right", **facts)])
        import_roster(store, roster)
        assert store.golfers()["Ö 1"].hand == "left"


@given(st.lists(st.tuples(st.text(max_size=200), st.text(max_size=9)), max_size=6))
def test_a_files_name_is_harmless_and_nobody_elses(labels: list[tuple[str, str]]) -> None:
    names = FileNames()
    made = [names.name(*pair, suffix=".html") for pair in labels]
    assert len({name.lower() for name in made}) == len(labels)
    for name in made:
        assert Path("/sheets", name).resolve().parent == Path("/sheets")
        assert name.isascii()
        assert name[0] not in ".~"
        assert len(name) < 200


def test_a_usual_name_is_as_people_expect() -> None:
    assert FileNames().name("Q0001", "iron 7", suffix=".html") == "Q0001_iron-7.html"


@pytest.mark.parametrize("name", ["../x", "a/b", "=x", " x", "x ", "", "x" * 65])
def test_an_editions_name_has_an_alphabet_unless_it_is_known(name: str) -> None:
    with pytest.raises(NormsError, match="allowed in a name"):
        check_edition_name(name, ())
    check_edition_name(name, (name,))
    check_edition_name("two labs 2026-autumn", ())
