"""The check of the labs: how every session went, and what of it may enter norms."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import PurePath

from norms.cohort.session_quality import session_qualities
from norms.errors import NormsError, StoreRefused
from norms.records import (
    FileOutcome,
    LabCheck,
    RejectedFile,
    SessionHold,
    SessionRelease,
    SwingPool,
    SwingQuality,
)
from pipelines.collect.profile import Profile
from pipelines.exclude import excluded_golfers, excluded_swings
from pipelines.lab_profiles import stored_profiles
from pipelines.lab_standing import features_only, lab_standing, noise_by_club
from pipelines.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRequest:
    """How far down to look; None looks at everything.

    Attributes
    ----------
    lab : str or None
    session : datetime.date or None
        A day; with it the day's swings are listed.
    swing : str or None
        One swing by its code, with its session.
    repeated_object : str or None
        Code of an object, or a person, measured at every session: it then stands on the charts
        in place of the repeated golfers.
    """

    lab: str | None = None
    session: date | None = None
    swing: str | None = None
    repeated_object: str | None = None


EVERYTHING = CheckRequest()


def check_labs(store: Store, request: CheckRequest = EVERYTHING) -> LabCheck:
    """Check the labs of a store, and hold back the sessions newly out of control.

    Parameters
    ----------
    store : Store
        Open for writing.
    request : CheckRequest
        Narrows what is listed; every judgement rests on the whole store.

    Returns
    -------
    LabCheck

    Raises
    ------
    StoreRefused
        ``nothing_to_check``, ``swing_unknown``, ``lab_unknown`` or ``session_unknown``.
    """
    found, holds = look_at_labs(store, request)
    if holds:
        store.hold_sessions(holds)
    return found


def look_at_labs(
    store: Store, request: CheckRequest = EVERYTHING
) -> tuple[LabCheck, tuple[SessionHold, ...]]:
    """As `check_labs`, from a store open for reading; what is newly out of control comes with it.

    Whoever has looked opens the store for writing and keeps these holds.
    """
    swings = store.swing_qualities()
    rejected = rejected_files(store.outcomes(), stored_profiles(store))
    if not swings and not rejected:
        raise StoreRefused(
            f"{store.path}: holds no capture yet: collect some, then check",
            code="nothing_to_check",
        )
    request = _with_session_of_swing(request, swings)
    _check_known(request, swings, rejected)
    standing = lab_standing(store, repeated_object=request.repeated_object, hold=False)
    sessions = session_qualities(
        swings,
        rejected,
        standing.controls,
        [*store.session_holds(), *standing.new_holds],
        store.session_releases(),
    )
    found = LabCheck(
        sessions=tuple(one for one in sessions if _wanted(request, one.lab, one.recorded_on)),
        rejected=tuple(one for one in rejected if _wanted(request, one.lab, one.recorded_on)),
        swings=_listed(request, swings),
        controls=tuple(one for one in standing.controls if request.lab in (None, one.lab)),
        admissions=tuple(one for one in standing.admission.labs if request.lab in (None, one.lab)),
        terms=tuple(one for one in standing.terms if request.lab in (None, one.effect.lab)),
        left_out=standing.admission.left_out,
        decided_out=_decided_out(store, standing.pool),
        noise=noise_by_club(features_only(standing.counted_pool)),
    )
    return found, standing.new_holds


def _decided_out(store: Store, pool: SwingPool) -> int:
    """Swings that a person left out of norms, one by one or with their golfer."""
    golfers, swings = excluded_golfers(store), excluded_swings(store)
    return sum(
        golfer in golfers or swing in swings
        for golfer, swing in zip(pool.golfers, pool.swings, strict=True)
    )


def release_session(store: Store, lab: str, day: date, *, who: str, why: str) -> SessionRelease:
    """Let a held session into norms again, on a person's word.

    Parameters
    ----------
    store : Store
        Open for writing.
    lab : str
    day : datetime.date
    who : str
        Role of the person, e.g. ``"head of the lab"``.
    why : str

    Raises
    ------
    NormsError
        If who or why is empty.
    StoreRefused
        ``session_not_held`` or ``session_released``.
    """
    if not who.strip() or not why.strip():
        raise NormsError(
            "releasing a session needs who decides and why: give --who ROLE and --why TEXT",
            code="release_unsigned",
        )
    release = SessionRelease(
        lab=lab,
        recorded_on=day,
        who=who.strip(),
        why=why.strip(),
        released_at=datetime.now(UTC),
    )
    said: dict[str, object] = {"lab": lab, "day": day.isoformat()}
    with store.act("release session", who=release.who, why=release.why, details=said):
        store.release_session(release)
    return release


def rejected_files(
    outcomes: Iterable[FileOutcome], profiles: Iterable[Profile]
) -> list[RejectedFile]:
    """Files that were rejected and never accepted since, by lab, day and name; each once.

    Parameters
    ----------
    outcomes : iterable of FileOutcome
        Of every run, in order.
    profiles : iterable of Profile
        Their patterns of file names tell the day.
    """
    last = {(outcome.lab, PurePath(outcome.source).name): outcome for outcome in outcomes}
    patterns = {profile.lab.name: profile.file_name_pattern() for profile in profiles}
    found = []
    for (lab, name), outcome in last.items():
        if outcome.status == "rejected":
            pattern = patterns.get(lab)
            fields = pattern.read(PurePath(name).stem) if pattern is not None else None
            day = _day((fields or {}).get("date"))
            found.append(
                RejectedFile(
                    source=name,
                    lab=lab,
                    code=outcome.code,
                    message=outcome.message,
                    recorded_on=day,
                )
            )
    return sorted(found, key=lambda one: (one.lab, one.recorded_on or date.max, one.source))


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        return None


def _with_session_of_swing(request: CheckRequest, swings: Iterable[SwingQuality]) -> CheckRequest:
    if request.swing is None:
        return request
    for one in swings:
        if one.swing == request.swing:
            return replace(request, lab=one.lab, session=one.recorded_on)
    raise StoreRefused(
        f"swing {request.swing}: is not in the store: check the code", code="swing_unknown"
    )


def _check_known(
    request: CheckRequest, swings: Iterable[SwingQuality], rejected: Iterable[RejectedFile]
) -> None:
    sessions: set[tuple[str, date | None]] = {(one.lab, one.recorded_on) for one in swings}
    sessions |= {(one.lab, one.recorded_on) for one in rejected}
    labs = sorted({lab for lab, _ in sessions})
    if request.lab is not None and request.lab not in labs:
        raise StoreRefused(
            f'lab "{request.lab}": nothing was collected from it; labs are {", ".join(labs)}',
            code="lab_unknown",
        )
    if request.session is not None and not any(_wanted(request, *one) for one in sessions):
        where = f" in {request.lab}" if request.lab else ""
        raise StoreRefused(
            f"session {request.session.isoformat()}{where}: nothing was collected of that day",
            code="session_unknown",
        )


def _wanted(request: CheckRequest, lab: str, day: date | None) -> bool:
    return request.lab in (None, lab) and request.session in (None, day)


def _listed(request: CheckRequest, swings: Iterable[SwingQuality]) -> tuple[SwingQuality, ...]:
    if request.session is None:
        return ()
    return tuple(
        one
        for one in swings
        if _wanted(request, one.lab, one.recorded_on) and request.swing in (None, one.swing)
    )
