from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from norms.cohort.edition import verify_edition
from norms.errors import StoreRefused
from norms.records import Exclusion
from pipelines.store import open_store

NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "academy.duckdb", create=True) as opened:
        yield opened


def test_annexes_come_back_exactly(store, small_academy):
    edition = small_academy.edition
    store.save_edition(edition, NOW)
    back = store.edition(edition.name)
    assert verify_edition(back)
    assert len(back.annexes) == len(edition.annexes)
    for kept, made in zip(back.annexes, edition.annexes, strict=True):
        assert (kept.kind, kept.subject) == (made.kind, made.subject)
        assert kept.withheld == made.withheld
        assert kept.document == made.document
        assert set(kept.arrays) == set(made.arrays)
        for name, values in made.arrays.items():
            assert kept.arrays[name].shape == values.shape
            np.testing.assert_array_equal(kept.arrays[name], values)
    assert back.evidence == edition.evidence


def test_an_edition_without_annexes_has_none(store, small_academy):
    from norms.cohort.edition import build_edition

    plain = build_edition("plain", small_academy.pool, small_academy.golfers)
    store.save_edition(plain, NOW)
    assert store.edition("plain").annexes == ()


def test_the_same_bands_with_other_annexes_are_another_edition(store, small_academy):
    from norms.cohort.annexes import AnnexChoices

    store.save_edition(small_academy.edition, NOW)
    other = small_academy.build(choices=AnnexChoices(relabellings=999, seed=3))
    with pytest.raises(StoreRefused, match="other numbers: annexes were others"):
        store.save_edition(other, NOW)
    alike = replace(small_academy.edition, content_hash="ab" * 32)
    with pytest.raises(StoreRefused, match="same settings and programs, it rests on other swings"):
        store.save_edition(alike, NOW)


def test_a_refused_edition_says_which_settings_and_versions_are_others(store, small_academy):
    store.save_edition(small_academy.edition, NOW)
    kept = small_academy.edition.parameters
    other = replace(
        small_academy.edition,
        parameters={**kept, "numpy_version": "0.9", "levels": []},
        content_hash="ab" * 32,
    )
    with pytest.raises(StoreRefused) as refused:
        store.save_edition(other, NOW)
    said = refused.value.message
    assert f"numpy version was {kept['numpy_version']} and is 0.9" in said
    assert "levels were others" in said
    assert "norms version" not in said


def test_exclusions_keep_who_why_and_when_even_when_withdrawn(store):
    golfer = Exclusion(golfer="Q0001", reason="wore a brace", decided_by="head coach")
    swing = Exclusion(swing="Q0002-1", reason="slipped", decided_by="lab lead")
    store.add_exclusion(golfer, NOW)
    store.add_exclusion(swing, NOW)
    store.withdraw_exclusion(
        golfer=None, swing="Q0002-1", reason="looked again", decided_by="head coach", decided_at=NOW
    )
    first, second = store.exclusions()
    assert (first.exclusion, first.stands) == (golfer, True)
    assert (second.exclusion, second.stands) == (swing, False)
    assert (second.withdrawn_by, second.withdrawn_reason) == ("head coach", "looked again")
    assert second.withdrawn_at == first.decided_at == NOW.replace(tzinfo=None)


def test_a_decision_stands_once_and_only_a_standing_one_ends(store):
    one = Exclusion(golfer="Q0001", reason="wore a brace", decided_by="head coach")
    store.add_exclusion(one, NOW)
    with pytest.raises(StoreRefused, match="already left out"):
        store.add_exclusion(one, NOW)
    end = {"golfer": "Q0001", "swing": None, "reason": "r", "decided_by": "d", "decided_at": NOW}
    store.withdraw_exclusion(**end)
    with pytest.raises(StoreRefused, match="not left out"):
        store.withdraw_exclusion(**end)
    store.add_exclusion(one, NOW)
    assert [known.stands for known in store.exclusions()] == [False, True]
