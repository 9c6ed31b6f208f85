"""Where the labs of a store stand: charts, sessions held, labs admitted, and in which terms."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

import numpy as np
from numpy.typing import NDArray

from norms.cohort.lab_admission import Admission, admit_labs, pool_rows
from norms.cohort.lab_control import lab_control
from norms.cohort.lab_effects import lab_effect
from norms.cohort.lab_terms import in_reference_terms, lab_terms
from norms.cohort.measurement_error import measurement_error
from norms.cohort.object_control import object_control
from norms.cohort.session_quality import out_of_control
from norms.errors import CohortRefused
from norms.records import LabControl, LabTerms, MeasurementError, SessionHold, SwingPool
from pipelines.consents import consenting
from pipelines.exclude import excluded_golfers, excluded_swings
from pipelines.lab_profiles import stored_profiles
from pipelines.store import Store


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LabStanding:
    """What the swings of a store say about its labs.

    Attributes
    ----------
    pool : SwingPool
        Every swing of the store.
    errors : Mapping of str to MeasurementError
        Of the features, by club: the yardstick of the charts; curves are left out.
    controls : tuple of LabControl
        By club and lab.
    admission : Admission
    terms : tuple of LabTerms
    norms_pool : SwingPool
        The swings that may enter norms as far as labs decide, in the terms of the reference labs.
    counted_pool : SwingPool
        Those of them whose golfer agrees to norms and that no person left out: what the terms of
        the labs, and an edition's noise budget, rest on.
    new_holds : tuple of SessionHold
        Sessions newly out of control.
    """

    pool: SwingPool
    errors: Mapping[str, MeasurementError]
    controls: tuple[LabControl, ...]
    admission: Admission
    terms: tuple[LabTerms, ...]
    norms_pool: SwingPool
    counted_pool: SwingPool
    new_holds: tuple[SessionHold, ...] = ()


def lab_standing(
    store: Store, *, repeated_object: str | None = None, hold: bool = True
) -> LabStanding:
    """Judge the labs of a store, and hold back what is newly out of control.

    Charts look at every swing, whoever swung it: whether a lab measures well is the lab's own
    affair. What goes into editions rests on the golfers who agree to norms.

    Parameters
    ----------
    store : Store
        Open for writing where ``hold`` is true.
    repeated_object : str, optional
        Code of an object, or a person, measured at every session; it then takes the place of the
        repeated golfers in the charts of the labs that measured it often enough.
    hold : bool
        Whether sessions newly out of control are written down as held back.
    """
    pool = store.swing_pool()
    known = {profile.lab.name for profile in stored_profiles(store)}
    errors = _errors_of_features(pool)
    controls = _controls(pool, errors, repeated_object)
    new = _new_holds(store, controls)
    if hold and new:
        with store.act("hold sessions", details={"sessions": len(new)}, silent_unchanged=True):
            store.hold_sessions(new)
    held = _held_sessions(store, new)
    counted = _counted(store, pool)
    admission = admit_labs(pool, known, held, counted=counted)
    admitted = pool_rows(pool, admission.admitted)
    told_by = pool_rows(pool, admission.admitted & counted)
    terms = _terms(told_by, admission, _errors_of_features(pool_rows(pool, counted)))
    return LabStanding(
        pool=pool,
        errors=errors,
        controls=controls,
        admission=admission,
        terms=terms,
        norms_pool=in_reference_terms(admitted, terms),
        counted_pool=in_reference_terms(told_by, terms),
        new_holds=new,
    )


def _counted(store: Store, pool: SwingPool) -> NDArray[np.bool_]:
    """Rows of the pool whose golfer agrees to norms and that no person left out."""
    golfers = set(consenting(store, "norms")) - set(excluded_golfers(store))
    swings = excluded_swings(store)
    return np.array(
        [
            golfer in golfers and swing not in swings
            for golfer, swing in zip(pool.golfers, pool.swings, strict=True)
        ],
        dtype=bool,
    )


def noise_by_club(pool: SwingPool) -> dict[str, MeasurementError]:
    """Measurement error of every club that has golfers with repeated swings."""
    found = {}
    for club in sorted(set(pool.clubs)):
        try:
            found[club] = measurement_error(pool, club)
        except CohortRefused:
            continue  # too few repeats say nothing of error; pages then show none
    return found


def features_only(pool: SwingPool) -> SwingPool:
    """The pool with curves that do not vary, which take no time to fit."""
    return replace(pool, curves_cm=np.zeros_like(pool.curves_cm))


def _errors_of_features(pool: SwingPool) -> dict[str, MeasurementError]:
    return noise_by_club(features_only(pool))


def _controls(
    pool: SwingPool, errors: Mapping[str, MeasurementError], repeated_object: str | None
) -> tuple[LabControl, ...]:
    controls = []
    for club, error in errors.items():
        for lab in error.labs:
            control = _by_object(pool, lab, repeated_object, club)
            controls.append(control or lab_control(pool, lab, error))
    return tuple(controls)


def _by_object(pool: SwingPool, lab: str, code: str | None, club: str) -> LabControl | None:
    if code is None:
        return None
    try:
        return object_control(pool, lab, code, club)
    except CohortRefused:
        return None  # not measured here often enough: the repeated golfers are the chart


def _new_holds(store: Store, controls: tuple[LabControl, ...]) -> tuple[SessionHold, ...]:
    """Sessions out of control that nobody has held back before."""
    now = datetime.now(UTC)
    known = {(one.lab, one.recorded_on) for one in store.session_holds()}
    return tuple(
        SessionHold(lab=lab, recorded_on=day, reason=reason, held_at=now)
        for (lab, day), reason in out_of_control(controls).items()
        if (lab, day) not in known
    )


def _held_sessions(store: Store, new: Iterable[SessionHold]) -> set[tuple[str, date]]:
    """Sessions held back now: those held before, and those newly out, without the released."""
    held = {(one.lab, one.recorded_on) for one in (*store.session_holds(), *new)}
    return held - {(one.lab, one.recorded_on) for one in store.session_releases()}


def _terms(
    admitted: SwingPool, admission: Admission, errors: Mapping[str, MeasurementError]
) -> tuple[LabTerms, ...]:
    terms = []
    for one in admission.labs:
        reference = admission.reference.get(one.club)
        if one.admitted and reference is not None and one.lab != reference:
            effect = lab_effect(admitted, one.lab, reference, errors[one.club])
            terms.append(lab_terms(admitted, effect))
    return tuple(terms)
