"""What studies found to go with ball speed, kept in words for placement sheets."""

from collections.abc import Mapping
from typing import Final

from pipelines.store import Store

KEY: Final = "ball_speed_on_sheets"


def keep_speed_words(store: Store, club: str, words: Mapping[str, str]) -> None:
    """Keep the sentences of the newest study of a club, by feature; they replace older ones."""
    store.set_setting(KEY, {**_kept(store), club: dict(words)})


def speed_words(store: Store, club: str) -> dict[str, str]:
    """Sentences by feature from the newest study of a club; empty where there was none."""
    return _kept(store).get(club, {})


def _kept(store: Store) -> dict[str, dict[str, str]]:
    kept = store.setting(KEY)
    return kept if isinstance(kept, dict) else {}
