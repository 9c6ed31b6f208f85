"""Every golfer of a roster placed by the swings of their newest session."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from norms.errors import CohortRefused, NormsError
from norms.placement.lookalikes import History
from norms.placement.place_golfer import PlacingGround, place_golfer
from norms.records import Golfer, Swing, SwingPool
from norms.records.golfer_place import GolferPlace
from pipelines.consents import consenting
from pipelines.edition_terms import in_known_terms
from pipelines.placing import ground_of, history_in
from pipelines.store import Store

_BATCH = 200


def place_roster(
    store: Store, edition: str, *, club: str | None = None, look_alikes: bool = False
) -> Iterator[tuple[str, GolferPlace | NormsError]]:
    """Place every golfer who agrees to coaching, with each club, by their newest session.

    Parameters
    ----------
    store : Store
    edition : str
    club : str, optional
        By default every club of the edition.
    look_alikes : bool
        Whether look-alikes are sought, too.

    Yields
    ------
    golfer : str
    place : GolferPlace or NormsError
        A golfer who cannot be placed has the reason, and does not stop the others.

    Raises
    ------
    CohortRefused
        If the edition does not have the club.
    """
    ground = ground_of(store, edition)
    clubs = sorted({cell.cohort.definition.club for cell in ground.edition.cells})
    if club is not None and club not in clubs:
        raise CohortRefused(
            f"edition {edition} has no norms for club {club!r}; it has {', '.join(clubs)}",
            code="unknown_club",
        )
    golfers, terms = store.golfers(), store.edition_terms(edition)
    willing = consenting(store, "coaching")
    history = history_in(store, golfers) if look_alikes else None
    pool = store.swing_pool() if history is None else history.pool
    wanted = [
        (golfer, codes)
        for golfer, codes in newest_sessions(pool, clubs if club is None else [club])
        if golfer in willing
    ]
    for first in range(0, len(wanted), _BATCH):
        batch = wanted[first : first + _BATCH]
        swings = store.golfer_shelf.swings([code for _, codes in batch for code in codes])
        for golfer, codes in batch:
            in_terms = [in_known_terms(ground.edition, terms, swings[code]) for code in codes]
            yield golfer, _place(in_terms, ground, golfers.get(golfer), history)


def newest_sessions(pool: SwingPool, clubs: list[str]) -> list[tuple[str, list[str]]]:
    """Swings of each golfer's newest day with each club, by golfer and club."""
    days: dict[tuple[str, str], date] = {}
    codes: dict[tuple[str, str], list[str]] = {}
    for swing, golfer, club, day in zip(
        pool.swings, pool.golfers, pool.clubs, pool.recorded_on, strict=True
    ):
        if club not in clubs:
            continue
        key = (golfer, club)
        if key not in days or day > days[key]:
            days[key], codes[key] = day, []
        if day == days[key]:
            codes[key].append(swing)
    return [(golfer, codes[golfer, club]) for golfer, club in sorted(codes)]


def _place(
    in_terms: list[tuple[Swing, tuple[str, ...]]],
    ground: PlacingGround,
    golfer: Golfer | None,
    history: History | None,
) -> GolferPlace | NormsError:
    """Place one golfer; what was said of the labs' terms joins the cautions."""
    try:
        place = place_golfer(
            [swing for swing, _ in in_terms], ground, golfer=golfer, history=history
        )
    except NormsError as refusal:
        return refusal
    said = dict.fromkeys(sentence for _, sentences in in_terms for sentence in sentences)
    placement = replace(place.placement, cautions=(*place.placement.cautions, *said))
    return replace(place, placement=placement)
