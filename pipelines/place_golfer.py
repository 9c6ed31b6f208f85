"""One capture held against an edition: read, processed, placed, kept."""

from dataclasses import replace
from typing import Any

from norms.placement.document import placement_document
from norms.placement.place import place_swing
from norms.records import Placement
from pipelines.consents import refuse_without_consent
from pipelines.edition_terms import in_edition_terms
from pipelines.read_capture import PlaceRequest as PlaceRequest
from pipelines.read_capture import read_swing
from pipelines.store import Store


def place_capture(store: Store, request: PlaceRequest) -> tuple[Placement, dict[str, Any]]:
    """Place one capture, and keep the placement where the store knows the golfer.

    Parameters
    ----------
    store : Store
        Open for writing.
    request : PlaceRequest

    Returns
    -------
    placement : Placement
    document : dict
        The same as JSON-ready values (``norms.placement.document``).

    Raises
    ------
    NormsError
        One line that says what is missing or wrong.
    """
    edition = store.edition(request.edition)
    measured, golfer = read_swing(store, request)
    if golfer is not None:
        refuse_without_consent(store, golfer.code, "coaching")
    swing, of_the_lab = in_edition_terms(store, edition, measured)
    placement = place_swing(
        swing, edition, golfer=golfer, handicap=request.handicap, level=request.level
    )
    placement = replace(placement, cautions=(*placement.cautions, *of_the_lab))
    document = placement_document(placement)
    if golfer is not None:
        store.save_placement(placement, document)
    return placement, document
