"""One capture or several of one golfer to a placement sheet's contents."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from norms.placement.golfer_document import golfer_document
from norms.placement.place_golfer import place_golfer
from norms.records import Golfer, Swing
from norms.records.golfer_place import GolferPlace
from pipelines.edition_terms import in_edition_terms
from pipelines.place_golfer import PlaceRequest, read_swing
from pipelines.placing import ground_of, history_in
from pipelines.store import Store


def place_sheet(
    store: Store,
    request: PlaceRequest,
    *,
    more: Sequence[Path] = (),
    notes: Path | None = None,
    look_alikes: bool = True,
) -> tuple[GolferPlace, dict[str, Any]]:
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
    ground = ground_of(store, request.edition, notes)
    golfer: Golfer | None = None
    swings: list[Swing] = []
    said: dict[str, None] = {}
    for capture in (request.capture, *more):
        measured, golfer = read_swing(store, replace(request, capture=capture))
        swing, of_the_lab = in_edition_terms(store, ground.edition, measured)
        swings.append(swing)
        said |= dict.fromkeys(of_the_lab)
    place = place_golfer(
        swings,
        ground,
        golfer=golfer,
        handicap=request.handicap,
        level=request.level,
        history=history_in(store, store.golfers()) if look_alikes else None,
    )
    placement = replace(place.placement, cautions=(*place.placement.cautions, *said))
    place = replace(place, placement=placement)
    document = golfer_document(place)
    if golfer is not None:
        store.save_placement(placement, document["placement"])
    return place, document
