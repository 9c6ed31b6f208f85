"""One placed swing held against an approved standard, and kept with what it was judged by."""

from collections.abc import Sequence

import numpy as np

from norms.errors import StandardRefused
from norms.records import Edition, Placement
from norms.records.standard import Decision, GolferMeans, GolferVerdict, Quantity, Standard
from norms.standards.document import standard_hash
from norms.standards.life import state_of
from norms.standards.quantities import mean_error_of, stretch_mean
from norms.standards.verdicts import judge
from pipelines.manage_standard import edition_of, standard_errors
from pipelines.roles import NOT_STATED
from pipelines.store import Store


def judge_placement(
    store: Store, placement: Placement, name: str, *, who: str = NOT_STATED
) -> GolferVerdict:
    """Hold one placed swing against a standard, and keep by which edition and standard.

    A single swing carries the whole error of one swing, so it can often not be told.

    Parameters
    ----------
    store : Store
        Open for writing.
    placement : Placement
        Its swing in the terms of the edition.
    name : str
        Name of an approved standard.
    who : str
        Role, for the log.

    Raises
    ------
    StandardRefused
        If the standard is not approved, rests on another edition, or is for another club.
    """
    kept = store.standards.standard(name)
    standard = kept.standard
    edition = edition_of(store, standard)
    _refuse_unfit(standard, kept.decisions, placement, edition)
    errors = standard_errors(edition, standard)
    if errors is None:
        raise StandardRefused(
            f"standard {name}: the measurement error of {standard.golfers.club} is not known",
            code="error_unknown",
        )
    one = np.ones(1)
    means = GolferMeans(
        golfers=(placement.swing.label.golfer,),
        swings=one.astype(np.int64),
        days=one.astype(np.int64),
        values=np.array([[_value(placement, part.quantity) for part in standard.requirements]]),
        errors=mean_error_of(errors, one, one),
    )
    (verdict,) = judge(standard, means, errors)
    if store.golfer(verdict.golfer) is not None:
        said: dict[str, object] = {"standard": name, "standard_hash": standard_hash(standard)}
        with store.act("judge", who=who, golfer=verdict.golfer, details=said):
            store.placements.keep_verdict(
                placement.swing.label.swing, standard, standard_hash(standard), verdict
            )
    return verdict


def _refuse_unfit(
    standard: Standard, decisions: Sequence[Decision], placement: Placement, edition: Edition
) -> None:
    label = placement.swing.label
    if state_of(decisions) != "approved":
        raise StandardRefused(
            f"standard {standard.name}: is {state_of(decisions)}; a swing is judged by an "
            "approved one",
            code="state",
        )
    if placement.edition_hash != edition.content_hash:
        raise StandardRefused(
            f"standard {standard.name}: rests on edition {edition.name} "
            f"({edition.content_hash[:12]}); place the swing in that one",
            code="other_edition",
        )
    if label.club != standard.golfers.club:
        raise StandardRefused(
            f"standard {standard.name}: is for {standard.golfers.club}, not for {label.club}",
            code="other_club",
        )


def _value(placement: Placement, quantity: Quantity) -> float:
    swing = placement.swing
    if quantity.feature is None:
        return float(stretch_mean(swing.curve.values_cm, quantity))
    return swing.features.values.get(quantity.feature, float("nan"))
