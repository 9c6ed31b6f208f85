"""Points in a file's own terms and a lab's profile, to a Capture: roles, centimetres, axes."""

from collections.abc import Mapping
from typing import Final

import numpy as np

from norms.errors import CaptureRefused, Notice
from norms.records import BoolArray, Capture
from norms.vocabulary import CLUB_ROLE, FOOT_ROLES, HAND_ROLES, Hand
from pipelines.collect.profile import PELVIS_SETS, Profile
from pipelines.collect.raw_points import RawPoints, short

UNIT_WORDS: Final[dict[str, str]] = {
    **dict.fromkeys(("mm", "millimeter", "millimeters", "millimetre", "millimetres"), "mm"),
    **dict.fromkeys(("cm", "centimeter", "centimeters", "centimetre", "centimetres"), "cm"),
    **dict.fromkeys(("dm", "decimeter", "decimeters", "decimetre", "decimetres"), "dm"),
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), "m"),
    **dict.fromkeys(("in", "inch", "inches"), "in"),
    **dict.fromkeys(("ft", "foot", "feet"), "ft"),
}
RATE_TOLERANCE: Final = 0.005
"""Share by which a file's rate may differ from the declared one."""
FARTHEST_CM: Final = 10_000.0
"""No point of a swing lies farther from the laboratory's origin than 100 m."""


def to_capture(
    raw: RawPoints, profile: Profile, *, source: str, hand: Hand, golfer: str | None = None
) -> Capture:
    """Apply a lab profile to what a reader found.

    Parameters
    ----------
    raw : RawPoints
    profile : Profile
    source : str
        File name for messages.
    hand : {"right", "left"}
        The side the golfer plays from, as the roster declares it.
    golfer : str, optional
        The golfer's code, by which the profile may declare a leg length.

    Returns
    -------
    Capture
        Only points with a role, in centimetres; the laboratory's axes are carried along.

    Raises
    ------
    CaptureRefused
        ``units_disagree``, ``rate``, ``missing_marker``, ``ambiguous_marker``,
        ``marker_dropped``, ``magnitude``, ``event_repeated`` or ``event_outside``.
    """
    _check_unit(raw.unit, profile, source)
    rate_hz = _rate(raw.rate_hz, profile, source)
    places, notices = _places_of_roles(raw, profile, source)
    points_cm = raw.points[:, list(places.values())] * profile.cm_per_unit
    if np.nanmax(np.abs(points_cm)) > FARTHEST_CM:
        raise CaptureRefused(
            f"{source}: a point lies {np.nanmax(np.abs(points_cm)) / 100:.3g} m from the origin; "
            f"the file is damaged, or its unit is not {profile.units.length}",
            code="magnitude",
        )
    events_s, event_notices = _events(raw, profile, source, rate_hz)
    return Capture(
        points_cm=points_cm,
        roles=tuple(places),
        rate_hz=rate_hz,
        axes=profile.lab_axes(),
        hand=hand,
        events_s=events_s,
        event_source=profile.events.source,
        hip_regression=profile.pelvis.hip_regression,
        given_centres=profile.pelvis.given_centres,
        leg_length_cm=profile.pelvis.leg_length_cm.get(golfer or ""),
        marker_radius_cm=profile.pelvis.marker_radius_cm,
        conditioning=profile.conditioning_choice(),
        notices=(*raw.notices, *notices, *event_notices),
    )


def _check_unit(stated: str | None, profile: Profile, source: str) -> None:
    if stated is None:
        return
    if UNIT_WORDS.get(stated.strip().lower()) != profile.units.length:
        raise CaptureRefused(
            f"{source}: the file states lengths in '{short(stated)}' where the profile declares "
            f"'{profile.units.length}'; correct whichever is wrong",
            code="units_disagree",
        )


def _rate(stated: float | None, profile: Profile, source: str) -> float:
    declared = profile.rate.hz
    if stated is None and declared is None:
        raise CaptureRefused(
            f"{source}: no rate: add a column time_s, or hz under [rate] in the profile",
            code="rate",
        )
    if stated is None:
        assert declared is not None
        rate_hz = declared
    elif declared is not None and abs(stated - declared) > RATE_TOLERANCE * declared:
        raise CaptureRefused(
            f"{source}: the file's rate is {stated:g} Hz where the profile declares "
            f"{declared:g} Hz; correct whichever is wrong",
            code="rate",
        )
    else:
        rate_hz = stated
    if profile.conditioning.cutoff == "fixed" and profile.conditioning.cutoff_hz >= rate_hz / 2:
        raise CaptureRefused(
            f"{source}: at {rate_hz:g} Hz the profile's cutoff_hz of "
            f"{profile.conditioning.cutoff_hz:g} is above half the rate",
            code="rate",
        )
    return rate_hz


def _places_of_roles(
    raw: RawPoints, profile: Profile, source: str
) -> tuple[dict[str, int], list[Notice]]:
    """Place in the file of each role that is there, and what is to be said of the others."""
    found = {role: _place(raw.labels, label, source) for role, label in profile.points.items()}
    seen: BoolArray = np.any(np.isfinite(raw.points[:, :, 0]), axis=0)
    usable = {role: at for role, at in found.items() if at is not None and seen[at]}
    for role, label in profile.points.items():
        if role not in usable and _is_needed(role, profile, usable):
            if found[role] is None:
                raise _missing(source, role, label, raw.labels)
            raise CaptureRefused(
                f"{source}: marker '{label}' ({role}) was never seen; label it, or leave the "
                "file out",
                code="marker_dropped",
            )
    notices = [
        Notice(
            code="marker_missing" if found[role] is None else "marker_dropped",
            message=f"marker '{label}' ({role}) "
            + ("is not in the file" if found[role] is None else "was never seen"),
        )
        for role, label in profile.points.items()
        if role not in usable
    ]
    return usable, notices


def _is_needed(role: str, profile: Profile, usable: Mapping[str, int]) -> bool:
    """Whether a swing cannot be had without this role, given those that are there."""
    if role in FOOT_ROLES:
        return profile.axes.source == "feet_line"
    if role == CLUB_ROLE or role in HAND_ROLES:
        others = set(usable) & {CLUB_ROLE, *HAND_ROLES}
        return not others and not {"start", "top", "impact"} <= set(profile.events.labels())
    return not any(set(roles) <= set(usable) for roles in PELVIS_SETS)


def _place(labels: tuple[str, ...], wanted: str, source: str) -> int | None:
    """Where a label stands: itself, or behind one subject's prefix, as in ``name:LASI``."""
    exact = [i for i, label in enumerate(labels) if label == wanted]
    places = exact or [i for i, label in enumerate(labels) if label.endswith(":" + wanted)]
    if len(places) > 1:
        said = ", ".join(sorted({short(labels[i]) for i in places})[:4])
        raise CaptureRefused(
            f"{source}: label '{wanted}' fits {len(places)} points ({said}); give the profile the "
            "full label, or export one subject only",
            code="ambiguous_marker",
        )
    return places[0] if places else None


def _missing(source: str, role: str, label: str, labels: tuple[str, ...]) -> CaptureRefused:
    named = [short(name) for name in labels if name]
    some = ", ".join(named[:6]) + (f" and {len(named) - 6} more" if len(named) > 6 else "")
    return CaptureRefused(
        f"{source}: marker '{label}' ({role}) is not in the file, which holds {some or 'none'}; "
        "correct [points] in the profile, or the file",
        code="missing_marker",
    )


def _events(
    raw: RawPoints, profile: Profile, source: str, rate_hz: float
) -> tuple[dict[str, float], list[Notice]]:
    """Seconds of the events that the profile wants from the file."""
    events_s: dict[str, float] = {}
    notices: list[Notice] = []
    last_s = (len(raw.points) - 1) / rate_hz
    for event, label in profile.events.labels().items():
        times = raw.events_s.get(label, ())
        if not times:
            said = f"the file has no event '{label}' ({event}); it is found from the motion"
            notices.append(Notice(code="event_missing", message=said))
            continue
        if len(times) > 1:
            raise CaptureRefused(
                f"{source}: event '{label}' ({event}) stands {len(times)} times; a file holds one "
                "swing",
                code="event_repeated",
            )
        if not 0 <= times[0] <= last_s + 0.5 / rate_hz:
            raise CaptureRefused(
                f"{source}: event '{label}' ({event}) is at {times[0]:.3f} s, outside the "
                f"capture's {last_s:.3f} s",
                code="event_outside",
            )
        events_s[event] = min(times[0], last_s)
    return events_s, notices
