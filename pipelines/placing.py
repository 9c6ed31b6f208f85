"""What placing needs of a store, read once: edition, shapes, noise, history, coaching notes."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonalWords:
    """What pages of golfers' own say of decisions about them, and of notes on health.

    Attributes
    ----------
    health : Mapping of str to str
        That a note is on record, by golfer.
    golfers_out : frozenset of str
        Golfers whom a person left out of norms.
    swings_out : Mapping of (str, str) to int
        Swings that a person left out, by golfer and club.
    """

    health: Mapping[str, str]
    golfers_out: frozenset[str]
    swings_out: Mapping[tuple[str, str], int]

    @classmethod
    def of(cls, store: Store) -> "PersonalWords":
        """Read once for many golfers."""
        out = excluded_swings(store)
        owners = store.golfer_shelf.swing_owners() if out else {}
        return cls(
            health=health_lines(store),
            golfers_out=frozenset(excluded_golfers(store)),
            swings_out=Counter(owners[code] for code in out if code in owners),
        )

    def about(self, golfer: str, club: str) -> tuple[str, ...]:
        """What is to be said on a page of one golfer with one club."""
        said = [self.health[golfer]] if golfer in self.health else []
        if golfer in self.golfers_out:
            said.append(
                "This golfer is left out of norms by a person's decision: placed among the others, "
                "and counted among nobody's peers from the next build on."
            )
        if out := self.swings_out.get((golfer, club), 0):
            said.append(
                f"{out} of this golfer's swings with this club {'is' if out == 1 else 'are'} left "
                "out by a person's decision, here as everywhere."
            )
        return tuple(said)
