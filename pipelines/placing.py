"""What placing needs of a store, read once: edition, shapes, noise, history, coaching notes."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from norms.cohort.annex_contents import noise_budgets
from norms.cohort.levels import level_of
from norms.placement.lookalikes import History, history_of
from norms.placement.place_golfer import PlacingGround, placing_ground
from norms.records import Edition, Swing
from pipelines.coaching_notes import read_coaching_notes
from pipelines.consents import consenting, counted_without_consent
from pipelines.exclude import (
    counted_though_excluded,
    excluded_golfers,
    excluded_swings,
    own_exclusion_words,
    refuse_excluded_swing,
    without_swings,
)
from pipelines.health_notes import health_lines
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


def history_in(store: Store) -> History:
    """Stored swings, ball speeds and levels, for look-alikes.

    Of golfers who agree to norms today and whom nobody left out, without the swings that a person
    left out; they are named where they agree to be shown.
    """
    out = excluded_golfers(store)
    golfers = {
        code: golfer for code, golfer in consenting(store, "norms").items() if code not in out
    }
    pool = without_swings(store.swing_pool(), excluded_swings(store))
    table = levels_of(store)
    newest: dict[str, date] = {}
    for golfer, day in zip(pool.golfers, pool.recorded_on, strict=True):
        if golfer in golfers:
            newest[golfer] = max(day, newest.get(golfer, day))
    levels = {code: level_of(golfers[code], day, table).label for code, day in newest.items()}
    return history_of(
        pool,
        store.ball_speeds(),
        levels,
        shown=frozenset(consenting(store, "shown")),
    )


def refuse_excluded(store: Store, swings: Sequence[Swing]) -> None:
    """Refuse captures whose swing a person left out, under whatever name the file comes.

    Raises
    ------
    StoreRefused
        ``swing_excluded``.
    """
    if not excluded_swings(store):
        return
    by_content = store.content_hashes()
    for swing in swings:
        label = swing.label
        refuse_excluded_swing(store, by_content.get(label.content_hash, label.swing))


def edition_words(store: Store, edition: Edition) -> tuple[str, ...]:
    """What is to be said of an edition that counts whom it would not count any more."""
    unwilling = len(counted_without_consent(store, edition))
    told = counted_though_excluded(store, edition)
    if not unwilling:
        return told
    return (
        f"Edition {edition.name} counts {unwilling} golfer{'s' * (unwilling != 1)} who "
        f"{'does' if unwilling == 1 else 'do'} not agree to norms today, or whose guardian's word "
        "is missing; the next build does not.",
        *told,
    )


def personal_words(store: Store, golfer: str, club: str) -> tuple[str, ...]:
    """What a page of a golfer's own says of decisions about them, and of notes on health."""
    return (*health_lines(store, golfer), *own_exclusion_words(store, golfer, club))
