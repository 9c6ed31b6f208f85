"""A person's correction of a swing's events: the capture is processed again, and both are kept."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from pathlib import Path

from norms.errors import CohortRefused, NormsError, ProfileRefused
from norms.records import EventCorrection, Swing
from norms.vocabulary import Event, Hand
from pipelines.collect.file_name import GivenLabel, label_file, refuse_before_birth
from pipelines.collect.file_work import FileWork
from pipelines.collect.profile import Profile, load_profile
from pipelines.collect.shield import shielded_swing
from pipelines.consents import refuse_unmeasured
from pipelines.known_clubs import KnownClubs
from pipelines.lab_profiles import stored_profiles
from pipelines.read_capture import content_hash_of
from pipelines.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class EventsRequest:
    """What a person asks for; None where the store, or the file's name, is to say.

    Attributes
    ----------
    capture : Path
        The file itself: the store keeps no raw points.
    times_s : Mapping of event to float
        Seconds from the file's first sample, of each event to correct; empty to look only.
    person, reason : str
        Who corrects (a role or a code) and why; needed where there is something to correct.
    profile : Path or None
    golfer, club : str or None
    day : datetime.date or None
    hand : {"right", "left"} or None
    """

    capture: Path
    times_s: Mapping[Event, float] = field(default_factory=dict)
    person: str = ""
    reason: str = ""
    profile: Path | None = None
    golfer: str | None = None
    club: str | None = None
    day: date | None = None
    hand: Hand | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EventsReport:
    """A swing's events as they now are, and every correction that was made of them.

    Attributes
    ----------
    swing : Swing
    corrections : tuple of EventCorrection
        In the order they were made; the last on an event counts.
    """

    swing: Swing
    corrections: tuple[EventCorrection, ...]


def correct_events(store: Store, request: EventsRequest) -> EventsReport:
    """Process a capture with a person's events, and keep swing and corrections; or only look.

    A swing already collected from this file is replaced. A file that was refused for its events
    (two swings, no start) becomes a stored swing. Earlier corrections still count. Editions that
    are built keep their numbers.

    Parameters
    ----------
    store : Store
        Open for writing where there is something to correct.
    request : EventsRequest

    Returns
    -------
    EventsReport

    Raises
    ------
    NormsError
        If person or reason are empty, an event lies outside the capture or out of order, or the
        capture cannot be processed; nothing is then kept.
    """
    new = _new_corrections(request)
    content_hash = content_hash_of(request.capture)
    stored = _stored_swing(store, content_hash)
    if stored is not None:
        _refuse_other_label(request, stored)
    earlier = store.event_corrections(content_hash)
    if stored is not None and not new:
        return EventsReport(swing=stored, corrections=earlier)
    profile = _profile(store, request, stored)
    work = _work(store, request, profile, stored, content_hash, (*earlier, *new))
    if store.golfer(work.label.golfer) is not None:
        refuse_unmeasured(store, work.label.golfer)
    swing = shielded_swing(work, profile)
    if new:
        with store.act(
            "events",
            who=new[0].person,
            why=new[0].reason,
            golfer=swing.label.golfer,
            details={"events": [word.event for word in new]},
            swings={swing.label.swing},
        ):
            store.correct_swing(swing, new, datetime.now(UTC))
    return EventsReport(swing=swing, corrections=(*earlier, *new))


def read_capture_again(
    store: Store, stored: Swing, capture: Path, *, hand: Hand, profile: Path | None = None
) -> Swing:
    """A stored swing read anew from its capture, from a certain side; nothing is kept.

    Corrections of the file's events that stand count.

    Raises
    ------
    NormsError
        ``other_capture`` where the file is not the one that the swing was read from; or as
        `correct_events`.
    """
    content_hash = content_hash_of(capture)
    if content_hash != stored.label.content_hash:
        raise CohortRefused(
            f"{capture.name}: is not the file that {stored.label.swing} was read from "
            f"({Path(stored.label.source).name}); name that one, or put a new export in its place "
            "with norms collect --replace",
            code="other_capture",
        )
    request = EventsRequest(capture=capture, profile=profile)
    work = FileWork(
        path=capture,
        label=stored.label,
        hand=hand,
        corrections=store.event_corrections(content_hash),
    )
    return shielded_swing(work, _profile(store, request, stored))


def _new_corrections(request: EventsRequest) -> tuple[EventCorrection, ...]:
    person, reason = " ".join(request.person.split()), " ".join(request.reason.split())
    if request.times_s and not (person and reason):
        missing = "who corrects" if not person else "why"
        raise NormsError(
            f"a correction needs who and why, and {missing} is empty; state it, by role and not "
            "by name",
            code="correction_unsigned",
        )
    return tuple(
        EventCorrection(event=event, time_s=time_s, person=person, reason=reason)
        for event, time_s in request.times_s.items()
    )


def _stored_swing(store: Store, content_hash: str) -> Swing | None:
    code = store.content_hashes().get(content_hash)
    return None if code is None else store.swing(code)


def _refuse_other_label(request: EventsRequest, stored: Swing) -> None:
    """A stored swing keeps its label; another one that is stated would be dropped in silence."""
    label = stored.label
    lab = None if request.profile is None else load_profile(request.profile).lab.name
    club = None if request.club is None else " ".join(request.club.lower().split())
    pairs = {
        "golfer": (request.golfer, label.golfer),
        "club": (club, label.club),
        "day": (request.day, label.recorded_on),
        "hand": (request.hand, stored.hand),
        "lab": (lab, label.lab),
    }
    for name, (stated, kept) in pairs.items():
        if stated is not None and stated != kept:
            raise NormsError(
                f"{request.capture.name}: is stored as swing {label.swing} with {name} {kept}, and "
                f"its events are looked at by that, not by {stated}; leave that option out",
                code="stored_otherwise",
            )


def _profile(store: Store, request: EventsRequest, stored: Swing | None) -> Profile:
    if request.profile is not None:
        return load_profile(request.profile)
    kept = stored_profiles(store)
    fitting = [p for p in kept if stored is not None and p.lab.name == stored.label.lab]
    if len(fitting) != 1:
        raise ProfileRefused(
            f"{request.capture.name}: was not collected into this store, so its lab is not known; "
            "name the lab's profile with --profile",
            code="no_profile",
        )
    return fitting[0]


def _work(
    store: Store,
    request: EventsRequest,
    profile: Profile,
    stored: Swing | None,
    content_hash: str,
    corrections: tuple[EventCorrection, ...],
) -> FileWork:
    """The file under the label it is stored by, else by request, file name and roster."""
    if stored is not None:
        return FileWork(
            path=request.capture, label=stored.label, hand=stored.hand, corrections=corrections
        )
    label = label_file(
        request.capture,
        profile.file_name_pattern(),
        lab=profile.lab.name,
        content_hash=content_hash,
        given=GivenLabel(golfer=request.golfer, club=request.club, recorded_on=request.day),
    )
    label = replace(label, club=KnownClubs.of(store).name(label.club, label.source))
    golfer = store.golfer(label.golfer)
    if golfer is not None:
        refuse_before_birth(label, golfer)
    hand = request.hand or (golfer.hand if golfer else None)
    if hand is None:
        raise CohortRefused(
            f"golfer {label.golfer} is not in the roster; read the roster into the store first",
            code="golfer_unknown",
        )
    return FileWork(path=request.capture, label=label, hand=hand, corrections=corrections)
