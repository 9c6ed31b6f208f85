"""Every golfer of a roster placed by the swings of their newest session."""

from collections.abc import Collection, Iterator
from dataclasses import replace
from datetime import date

from norms.cohort.golfer_facts import unmet_rules
from norms.cohort.levels import levels_in
from norms.errors import CohortRefused, NormsError
from norms.placement.choose_cell import cohort_cell
from norms.placement.lookalikes import History
from norms.placement.place_golfer import PlacingGround, place_golfer
from norms.records import CohortDefinition, Edition, Golfer, Swing, SwingPool
from norms.records.golfer_place import GolferPlace
from pipelines.consents import consenting
from pipelines.edition_terms import in_edition_terms
from pipelines.exclude import excluded_swings, without_swings
from pipelines.placing import PersonalWords, edition_words, ground_of, history_in
from pipelines.store import Store

_BATCH = 200


def place_roster(
    store: Store,
    edition: str,
    *,
    club: str | None = None,
    cohort: str | None = None,
    look_alikes: bool = False,
) -> Iterator[tuple[str, GolferPlace | NormsError]]:
    """Place every golfer who agrees to coaching, with each club, by their newest session.

    Swings that a person left out do not count.

    Parameters
    ----------
    store : Store
    edition : str
    club : str, optional
        By default every club of the edition, or the cohort's.
    cohort : str, optional
        Key of a cohort to hold everyone against who belongs to it.
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
        If the edition does not have the club or the cohort.
    """
    ground = ground_of(store, edition)
    asked = cohort_cell(ground.edition, cohort).cohort.definition if cohort else None
    clubs = (
        [asked.club]
        if asked
        else sorted({cell.cohort.definition.club for cell in ground.edition.cells})
    )
    if club is not None and club not in clubs:
        raise CohortRefused(
            f"{f'cohort {cohort}' if cohort else f'edition {edition}'} has no norms for club "
            f"{club!r}; it has {', '.join(clubs)}",
            code="unknown_club",
        )
    golfers = store.golfers()
    willing = consenting(store, "coaching")
    history = history_in(store) if look_alikes else None
    whole, out = store.swing_pool(), excluded_swings(store)
    asked_for = clubs if club is None else [club]
    wanted = [
        (golfer, codes)
        for golfer, codes in newest_sessions(without_swings(whole, out), asked_for)
        if golfer in willing
    ]
    of_edition, personal = edition_words(store, ground.edition), PersonalWords.of(store)
    yield from _all_left_out(whole, set(out), asked_for, willing)
    for first in range(0, len(wanted), _BATCH):
        batch = wanted[first : first + _BATCH]
        swings = store.golfer_shelf.swings([code for _, codes in batch for code in codes])
        for golfer, codes in batch:
            in_terms = [in_edition_terms(ground.edition, swings[code]) for code in codes]
            who = golfers.get(golfer)
            refusal = None if asked is None else _outside(ground.edition, asked, in_terms, who)
            found = refusal or _place(in_terms, ground, who, history, cohort)
            if not isinstance(found, NormsError):
                about = personal.about(golfer, found.placement.swing.label.club)
                found = _saying(found, (*about, *of_edition))
            yield golfer, found


def _all_left_out(
    pool: SwingPool, out: Collection[str], clubs: Collection[str], willing: Collection[str]
) -> Iterator[tuple[str, NormsError]]:
    """Golfers with swings of a club of which a person left out every one."""
    swung, left = set(), set()
    for code, golfer, club in zip(pool.swings, pool.golfers, pool.clubs, strict=True):
        if club in clubs and golfer in willing:
            swung.add((golfer, club))
            if code not in out:
                left.add((golfer, club))
    for golfer, club in sorted(swung - left):
        yield (
            golfer,
            CohortRefused(
                f"every swing with {club} is left out by a person's decision (norms exclusions)",
                code="swing_excluded",
            ),
        )


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


def _outside(
    edition: Edition,
    definition: CohortDefinition,
    in_terms: list[tuple[Swing, tuple[str, ...]]],
    golfer: Golfer | None,
) -> CohortRefused | None:
    """Why a golfer of the roster is not held against a cohort: by its definition an outsider."""
    day = max(swing.label.recorded_on for swing, _ in in_terms)
    levels = levels_in(edition)
    unmet = unmet_rules(definition, day, levels, golfer=golfer, handicap=None)
    if not unmet:
        return None
    return CohortRefused(
        f"not in cohort {definition.key} by its definition: {'; '.join(unmet)}",
        code="outside_cohort",
    )


def _place(
    in_terms: list[tuple[Swing, tuple[str, ...]]],
    ground: PlacingGround,
    golfer: Golfer | None,
    history: History | None,
    cohort: str | None,
) -> GolferPlace | NormsError:
    """Place one golfer; what was said of the labs' terms joins the cautions."""
    try:
        place = place_golfer(
            [swing for swing, _ in in_terms],
            ground,
            golfer=golfer,
            history=history,
            cohort=cohort,
        )
    except NormsError as refusal:
        return refusal
    said = dict.fromkeys(sentence for _, sentences in in_terms for sentence in sentences)
    return _saying(place, tuple(said))


def _saying(place: GolferPlace, said: tuple[str, ...]) -> GolferPlace:
    """The place with more cautions."""
    placement = replace(place.placement, cautions=(*place.placement.cautions, *said))
    return replace(place, placement=placement)
