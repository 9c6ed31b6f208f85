"""One capture or several of one golfer to a placement sheet's contents."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipelines.audit import edition_said
from pipelines.read_capture import PlaceRequest, candidates, read_candidates
from pipelines.roles import NOT_STATED
from pipelines.speed_words import speed_words
from pipelines.store import Store

if TYPE_CHECKING:
    from norms.records.golfer_place import GolferPlace


def place_sheet(
    store: Store,
    request: PlaceRequest,
    *,
    more: Sequence[Path] = (),
    notes: Path | None = None,
    look_alikes: bool = True,
    who: str = NOT_STATED,
) -> "tuple[GolferPlace, dict[str, Any]]":
    """Place a golfer by one capture or several, and keep it where the store knows the golfer.

    Parameters
    ----------
    store : Store
        Open for writing.
    request : PlaceRequest
        Of the first capture; what it states holds for the others.
    more : sequence of Path
        Further captures of the same golfer and club.
    notes : Path, optional
        TOML of the academy's own coaching notes.
    look_alikes : bool
        Whether earlier golfers who swing alike are sought.
    who : str
        Role, for the log.

    Returns
    -------
    place : GolferPlace
    document : dict
        The same as JSON-ready values.

    Raises
    ------
    NormsError
        One line that says what is missing or wrong.
    """
    requests = [replace(request, capture=capture) for capture in (request.capture, *more)]
    possible = [candidates(store, one) for one in requests]
    # Captures are read by processes of their own: meanwhile the libraries of placing are loaded,
    # which is why they are imported here, and the store is read.
    with ThreadPoolExecutor(len(requests)) as pool:
        reading = pool.map(read_candidates, requests, possible)
        from norms.placement.golfer_document import golfer_document
        from norms.placement.place_golfer import place_golfer
        from pipelines.consents import refuse_without_consent
        from pipelines.edition_terms import in_edition_terms
        from pipelines.placing import (
            PersonalWords,
            edition_words,
            ground_of,
            history_in,
            refuse_excluded,
        )

        ground = ground_of(store, request.edition, notes)
        history = history_in(store) if look_alikes else None
        measured = list(reading)
    golfer = measured[0][1]
    if golfer is not None:
        refuse_without_consent(store, golfer.code, "coaching")
    refuse_excluded(store, [swing for swing, _ in measured])
    in_terms = [in_edition_terms(ground.edition, swing) for swing, _ in measured]
    said = dict.fromkeys(sentence for _, sentences in in_terms for sentence in sentences)
    swings = [swing for swing, _ in in_terms]
    club = swings[0].label.club
    about = PersonalWords.of(store).about(golfer.code, club) if golfer is not None else ()
    said |= dict.fromkeys((*about, *edition_words(store, ground.edition)))
    told = speed_words(store, club)
    place = place_golfer(
        swings,
        replace(ground, ball_speed=told),
        golfer=golfer,
        handicap=request.handicap,
        level=request.level,
        cohort=request.cohort,
        history=history,
    )
    placement = replace(place.placement, cautions=(*place.placement.cautions, *said))
    place = replace(place, placement=placement)
    document = golfer_document(place)
    if golfer is not None:
        # What is said of a person today, a note on health above all, is no part of what is kept.
        said_of_all = [one for one in placement.cautions if one not in about]
        kept = {**document["placement"], "cautions": said_of_all}
        with store.act("place", who=who, golfer=golfer.code, details=edition_said(ground.edition)):
            store.placements.keep(placement, kept)
    return place, document
