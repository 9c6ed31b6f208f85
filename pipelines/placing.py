"""What placing needs of a store, read once: edition, shapes, noise, history, coaching notes."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path

from norms.cohort.annex_contents import noise_budgets
from norms.cohort.levels import level_of
from norms.placement.lookalikes import History, history_of
from norms.placement.place_golfer import PlacingGround, placing_ground
from norms.records import Golfer
from pipelines.coaching_notes import read_coaching_notes
from pipelines.settings import levels_of
from pipelines.store import Store


def ground_of(store: Store, edition: str, notes: Path | None = None) -> PlacingGround:
    """An edition of a store, ready for placing.

    Parameters
    ----------
    store : Store
    edition : str
    notes : Path, optional
        TOML of the academy's own coaching notes.

    Raises
    ------
    StoreRefused
        If the store has no such edition.
    NormsError
        If the notes cannot be used.
    """
    frozen = store.edition(edition)
    return placing_ground(
        frozen,
        noise_budgets(frozen),
        read_coaching_notes(notes) if notes is not None else (),
    )


def history_in(store: Store, golfers: Mapping[str, Golfer]) -> History:
    """Stored swings, ball speeds and levels, for look-alikes."""
    pool = store.swing_pool()
    table = levels_of(store)
    newest: dict[str, date] = {}
    for golfer, day in zip(pool.golfers, pool.recorded_on, strict=True):
        newest[golfer] = max(day, newest.get(golfer, day))
    levels = {
        code: level_of(golfers[code], day, table).label
        for code, day in newest.items()
        if code in golfers
    }
    return history_of(pool, store.ball_speeds(), levels)
