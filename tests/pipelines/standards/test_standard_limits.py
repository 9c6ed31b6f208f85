"""What a standard may ask, and who may approve it, through a store and its settings."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import tomlkit

from norms.errors import NormsError, StandardRefused
from pipelines.check_golfers import ReviewRequest, check_golfers
from pipelines.manage_standard import (
    approve_standard,
    draft_standard,
    retire_standard,
    review_standard,
)
from pipelines.settings import Settings, change_settings
from pipelines.write_standard import TO_WRITE

TODAY = date(2026, 6, 10)
SIGNED = {"role": "director of coaching", "reason": "agreed with the coaches", "on": TODAY}
GOLFERS = 64


def edit(path: Path, change) -> Path:
    document = tomlkit.parse(path.read_text(encoding="utf-8"))
    change(document)
    path.write_text(tomlkit.dumps(document), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"window_days": 10**12}, r"line \d+: window_days 1000000000000: at most 730"),
        ({"swings": 10**9}, r"line \d+: swings 1000000000: at most 30"),
        ({"review_on": date(2062, 1, 1)}, r"line \d+: review_on: 2062-01-01: allowed is 1950"),
        ({"rationale": TO_WRITE}, 'rationale still says "TO BE WRITTEN"'),
    ],
)
def test_what_is_beyond_reason_or_unwritten_is_not_put_up(store, drafted, change, words):
    edit(drafted, lambda document: document.update(change))
    with pytest.raises(StandardRefused, match=words):
        review_standard(store, drafted, **SIGNED)
    assert store.standards.names() == []


def test_a_draft_without_a_rationale_is_not_put_up_before_it_is_written(store, make, tmp_path):
    draft_standard(store, make.request(tmp_path / "s.toml", rationale=""))
    with pytest.raises(StandardRefused, match="TO BE WRITTEN"):
        review_standard(store, tmp_path / "s.toml", **SIGNED)


def test_a_window_kept_by_an_earlier_version_neither_breaks_a_check_nor_stays(
    store, approved, monkeypatch
):
    kept = store.standards.standard("driver_2026")
    endless = replace(kept, standard=replace(kept.standard, window_days=10**12))
    monkeypatch.setattr(type(store.standards), "standard", lambda self, name: endless)
    review = check_golfers(store, ReviewRequest(standard="driver_2026"), today=TODAY)
    assert len(review.verdicts) == GOLFERS
    retire_standard(store, "driver_2026", **SIGNED)


def test_one_role_for_both_steps_needs_the_academys_word_which_stands_in_the_log(store, drafted):
    review_standard(store, drafted, **SIGNED)
    with pytest.raises(StandardRefused, match="another role approves"):
        approve_standard(store, "driver_2026", **SIGNED)
    alone = Settings(one_person="the academy is one coach")
    for who, why in (("not stated", "x"), (" ", "x"), ("owner", "")):
        with pytest.raises(NormsError, match="one_person") as refusal:
            change_settings(store, alone, who=who, why=why)
        assert refusal.value.code == "settings_unsigned"
    change_settings(store, alone, who="owner", why="no second coach until spring")
    entry = store.audit.entries()[-1]
    assert (entry.action, entry.who) == ("settings", "owner")
    assert "the academy is one coach" in entry.details
    assert "no second coach until spring" in entry.details
    decision = approve_standard(store, "driver_2026", **SIGNED)
    assert "the academy is one coach" in decision.reason
    assert store.standards.standard("driver_2026").decisions[-1] == decision
    change_settings(
        store, alone.model_copy(update={"smallest_cell": 6})
    )  # the word itself unchanged
    with pytest.raises(NormsError):
        change_settings(store, Settings())  # taking it back is signed as well
