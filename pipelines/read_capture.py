"""One capture as a person names it: which lab's, whose, and the swing in it."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import Final

from norms.errors import CaptureRefused, CohortRefused, NormsError, ProfileRefused
from norms.records import Golfer, Swing
from norms.vocabulary import Hand
from pipelines.codes import check_golfer
from pipelines.collect.file_name import GivenLabel, label_file
from pipelines.collect.file_work import FileWork
from pipelines.collect.profile import Profile, load_profile
from pipelines.collect.shield import shielded_swing
from pipelines.erased_codes import refuse_erased_capture
from pipelines.lab_profiles import stored_profiles
from pipelines.store import Store

CONTRADICTIONS: Final = frozenset(
    {"units_disagree", "rate", "missing_marker", "ambiguous_marker", "file_name"}
)
"""Refusals that say that a file is not of this lab: its labels, unit, rate or name differ."""
PLACED_JOB: Final = "pipelines.collect.work:swing_with_uncertainty_of"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceRequest:
    """What a person asks for; None where the file's name, the roster or the store is to say.

    Attributes
    ----------
    capture : Path
    edition : str
    profile : Path or None
    golfer, club : str or None
    day : datetime.date or None
    hand : {"right", "left"} or None
    handicap : float or None
        Plus handicaps negative.
    level : str or None
        Key of a level, or ``"all"``.
    cohort : str or None
        Key of a cohort, instead of a level.
    """

    capture: Path
    edition: str
    profile: Path | None = None
    golfer: str | None = None
    club: str | None = None
    day: date | None = None
    hand: Hand | None = None
    handicap: float | None = None
    level: str | None = None
    cohort: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A profile by which a capture may be read, and what it then is; or why it is none."""

    profile: Profile
    work: FileWork | None = None
    golfer: Golfer | None = None
    refusal: NormsError | None = None


def candidates(store: Store, request: PlaceRequest) -> list[Candidate]:
    """All that reading a capture needs of the store, so that the reading itself needs none.

    The profile named, else every kept one. A lab is recognised by what its files state, labels,
    unit, rate and name, and never by how the motion looks.
    """
    if request.profile is not None:
        return [_candidate(store, request, load_profile(request.profile))]
    found = []
    for profile in stored_profiles(store):
        try:
            found.append(_candidate(store, request, profile))
        except NormsError as refusal:
            if refusal.code not in CONTRADICTIONS:
                raise
            found.append(Candidate(profile=profile, refusal=refusal))
    return found


def read_candidates(
    request: PlaceRequest, possible: Sequence[Candidate]
) -> tuple[Swing, Golfer | None]:
    """The swing by the one candidate that the file agrees with; all are read at once."""
    if request.profile is not None:
        ((_, outcome),) = _read_all(possible)
        if isinstance(outcome, NormsError):
            raise outcome
        return outcome
    found, reasons = [], []
    for candidate, outcome in _read_all(possible):
        lab = candidate.profile.lab.name
        if not isinstance(outcome, NormsError):
            found.append((lab, outcome))
        elif outcome.code in CONTRADICTIONS:
            reasons.append(f"{lab}: {outcome.message}")
        else:
            raise outcome
    if len(found) == 1:
        return found[0][1]
    labs = ", ".join(lab for lab, _ in found)
    why = f"it fits several labs: {labs}" if found else "; ".join(reasons) or "none is kept"
    raise ProfileRefused(
        f"{request.capture.name}: no one profile in the store fits ({why}); name the lab's "
        "profile with --profile",
        code="no_profile",
    )


def _read_all(
    possible: Sequence[Candidate],
) -> list[tuple[Candidate, tuple[Swing, Golfer | None] | NormsError]]:
    """Each candidate with its swing or refusal; a thread waits for each reader's process."""
    with ThreadPoolExecutor(max(1, len(possible))) as pool:
        return list(zip(possible, pool.map(_read, possible), strict=True))


def _read(candidate: Candidate) -> tuple[Swing, Golfer | None] | NormsError:
    if candidate.work is None:
        assert candidate.refusal is not None, "a candidate without work has a refusal"
        return candidate.refusal
    try:
        swing = shielded_swing(candidate.work, candidate.profile, job=PLACED_JOB)
    except NormsError as refusal:
        return refusal
    return swing, candidate.golfer


def _candidate(store: Store, request: PlaceRequest, profile: Profile) -> Candidate:
    work, golfer = _work(store, request, profile)
    return Candidate(profile=profile, work=work, golfer=golfer)


def _work(store: Store, request: PlaceRequest, profile: Profile) -> tuple[FileWork, Golfer | None]:
    """Label and hand of the capture, from the request, the file's name and the roster."""
    label = label_file(
        request.capture,
        profile.file_name_pattern(),
        lab=profile.lab.name,
        content_hash=content_hash_of(request.capture),
        given=GivenLabel(golfer=request.golfer, club=request.club, recorded_on=request.day),
    )
    corrections = store.event_corrections(label.content_hash)
    golfer = store.golfer(label.golfer)
    if golfer is None:
        refuse_erased_capture(store, label.golfer, request.capture.name)
    hand = request.hand or (golfer.hand if golfer else None)
    if hand is None:
        raise CohortRefused(
            f"golfer {label.golfer} is not in the roster: say with --hand right or left from "
            "which side the golfer plays",
            code="golfer_unknown",
        )
    if golfer is None:
        check_golfer(label.golfer)
    work = FileWork(path=request.capture, label=label, hand=hand, corrections=corrections)
    return work, golfer


def content_hash_of(path: Path) -> str:
    """SHA-256 of a capture's bytes, hexadecimal; a `CaptureRefused` where they cannot be read."""
    try:
        return sha256(path.read_bytes()).hexdigest()
    except OSError as fault:
        raise CaptureRefused(
            f"{path}: {fault.strerror or 'cannot be read'}; check the path", code="unreadable"
        ) from None
