"""What is within reason is said in one place, and every option of the command line has limits."""

from datetime import date, datetime, timedelta
from typing import Annotated, get_args, get_origin, get_type_hints

import pytest
import typer
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from pipelines.cli import app, main
from pipelines.limits import (
    EARLIEST_DAY,
    LONGEST_LINE,
    YEARS_AHEAD,
    last_day_ahead,
    past_day_fault,
    planned_day_fault,
)
from pipelines.store import open_store

TODAY = date(2026, 12, 1)


def test_tomorrow_is_let_pass_for_the_date_line_and_the_day_after_is_not():
    assert past_day_fault(TODAY + timedelta(days=1), today=TODAY) is None
    assert "after today" in past_day_fault(TODAY + timedelta(days=2), today=TODAY)


def test_nothing_happened_before_the_first_day_or_before_a_birth():
    assert "is before 1950" in past_day_fault(EARLIEST_DAY - timedelta(days=1), today=TODAY)
    assert past_day_fault(date(2001, 1, 1), today=TODAY, birth_year=2001) is None
    said = past_day_fault(date(2000, 12, 31), today=TODAY, birth_year=2001)
    assert "before the golfer was born (2001" in said


@given(st.dates())
def test_a_plan_is_allowed_on_every_day_up_to_its_last_and_on_none_beyond(day):
    allowed = EARLIEST_DAY <= day <= last_day_ahead(TODAY)
    assert (planned_day_fault(day, today=TODAY) is None) == allowed
    assert last_day_ahead(date(2024, 2, 29)).year == 2024 + YEARS_AHEAD


def every_parameter(group):
    """Name, type and stated limits of every parameter of every command."""
    for inner in group.registered_groups:
        yield from every_parameter(inner.typer_instance)
    for command in group.registered_commands:
        for name, hint in get_type_hints(command.callback, include_extras=True).items():
            if get_origin(hint) is Annotated:
                kind, info = get_args(hint)[:2]
                kinds = set(get_args(kind)) or {kind}
                yield pytest.param(kinds, info, id=f"{command.callback.__name__} {name}")


NUMBERS_AND_DAYS = [
    one for one in every_parameter(app) if one.values[0] & {int, float, date, datetime}
]


@pytest.mark.parametrize(("kinds", "info"), NUMBERS_AND_DAYS)
def test_every_option_that_takes_a_number_or_a_day_has_limits(kinds, info):
    if int in kinds:
        assert info.min is not None
        assert info.max is not None
    elif float in kinds:
        for beyond in ("nan", "inf", "-1e999", "1e12", "x"):
            with pytest.raises(typer.BadParameter):
                info.parser(beyond)
    else:
        with pytest.raises(typer.BadParameter):
            info.callback(datetime(2062, 1, 1))


def test_the_options_with_limits_are_found():
    assert len(NUMBERS_AND_DAYS) > 20


@pytest.mark.parametrize(
    "words",
    [
        ("collect", "x.c3d", "--store", "s", "--profile", "p", "--date", "2062-01-01"),
        ("collect", "x.c3d", "--store", "s", "--profile", "p", "--date", "0001-01-01"),
        ("collect", "x.c3d", "--store", "s", "--profile", "p", "--workers", "9" * 5000),
        ("mark", "Q0001", "2062-01-01", "lesson", "--store", "s"),
        ("mark", "Q0001", "2026-01-01", "x" * 2001, "--store", "s"),
        ("progress", "Q0001", "--store", "s", "--edition", "e", "--club", "c",
         "--from", "2062-01-01"),
        ("standard", "check", "n", "--store", "s", "--on", "2062-01-01"),
        ("standard", "draft", "f.toml", "--store", "s", "--edition", "e", "--cohort", "c",
         "--name", "n", "--title", "t", "--review", "2026-01-01"),
        ("standard", "draft", "f.toml", "--store", "s", "--edition", "e", "--cohort", "c",
         "--name", "n", "--title", "t", "--review", "2062-01-01"),
        ("demo", "folder", "--seed", "-1"),
        ("demo", "folder", "--golfers", "1000000000"),
        ("compare", "a", "b", "--store", "s", "--seed", str(2**40)),
        ("events", "x.c3d", "--store", "s", "--top", "inf"),
        ("centile", "tempo", "--value", "nan", "--store", "s", "--edition", "e"),
        ("centile", "tempo", "--value", "1e999", "--store", "s", "--edition", "e"),
        ("centile", "tempo", "--value", "1", "--age", "1e9", "--store", "s", "--edition", "e"),
        ("looks", "x.toml", "--store", "s", "--look", "0"),
    ],
)  # fmt: skip
def test_what_nobody_can_mean_is_refused_before_anything_is_opened(words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(app, list(words))
    assert done.exit_code == 2, done.output
    assert list(tmp_path.iterdir()) == []


def test_a_session_to_come_is_not_looked_for(tmp_path):
    done = CliRunner().invoke(
        app, ["check", "--store", str(tmp_path / "s"), "--session", "2062-01-01"]
    )
    assert "after today" in str(done.exception)


def test_a_refusal_that_repeats_a_long_text_is_cut_on_the_terminal(tmp_path, capsys, monkeypatch):
    file = tmp_path / "cohorts.toml"
    file.write_text(f'[[cohort]]\nname = "{"x" * 9_000}"\nclub = "driver"\n')
    words = ["norms", "build", "--store", "s", "--edition", "e", "--cohorts", str(file)]
    monkeypatch.chdir(tmp_path)
    with open_store(tmp_path / "s", create=True):
        pass
    monkeypatch.setattr("sys.argv", words)
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 1
    said = capsys.readouterr().err
    assert said.endswith("…\n")
    assert len(said) < LONGEST_LINE + 20
