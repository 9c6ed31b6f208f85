"""An option that does not apply is refused, and not dropped in silence."""

from pathlib import Path

import pytest

CASES = [
    (["place", "--all", "--level", "to_12"], "--level"),
    (["place", "--all", "--golfer", "Q1", "--date", "2026-01-01"], "--golfer, --date"),
    (["place", "--all", "--handicap", "0"], "--handicap"),
    (["place", "--all", "--profile", "{tmp}/p.toml", "--hand", "left"], "--profile, --hand"),
    (["place", "a.c3d", "--out", "{tmp}/sheets"], "--out"),
    (["place", "a.c3d", "--level", "to_12", "--cohort", "seniors"], "--level"),
    (["check", "--who", "head of the lab"], "--who"),
    (["check", "--swing", "S1", "--lab", "North bay"], "--lab"),
    (["events", "a.c3d", "--who", "coach", "--why", "seen on film"], "--who, --why"),
    (["consents", "--who", "office"], "--who"),
    (["study", "s.toml", "--research"], "--research"),
    (["build", "--unit", "cm"], "--unit"),
]


@pytest.mark.parametrize(("words", "told"), CASES, ids=[" ".join(words) for words, _ in CASES])
def test_what_does_not_apply_is_named(words: list[str], told: str, run, tmp_path: Path) -> None:
    store = tmp_path / "none.duckdb"
    filled = [word.format(tmp=tmp_path) for word in words]
    edition = ["--edition", "x"] if words[0] in ("place", "build") else []
    code, out, err = run(*filled, "--store", store, *edition)
    assert (code, out) == (2, "")
    assert f"{told} do" in err
    assert "not apply" in err
    assert list(tmp_path.iterdir()) == []
