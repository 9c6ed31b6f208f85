"""Sessions of one golfer with one club held against each other and against the peers."""

from collections.abc import Sequence
from datetime import date
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import special

from norms.cohort.profile_parts import parts_of
from norms.errors import CohortRefused
from norms.placement.progress import Spread, judge_change
from norms.records import Bands, Cohort, MeasurementError, SwingPool
from norms.records.progress import FeatureChange, GolferEvent, Progress, SessionSummary
from norms.swing.catalogue import FEATURE_NAMES
from norms.vocabulary import NODES

FloatArray = NDArray[np.float64]

BAND_SHARE: Final = 0.90
PEERS_BANDS: Final = ((5.0, 95.0), (10.0, 90.0), (25.0, 75.0))  # widest first
MANY_FEATURES: Final = (
    "With this many features about one in twenty changes is called real in a golfer who has not "
    "changed."
)
NO_NOISE: Final = "The edition has no noise budget for this club: no change can be judged."
TWO_LABS: Final = (
    "The two sessions were recorded in different labs: part of a change may be the labs'."
)
WHEN_ONLY: Final = (
    "An event between two sessions says when something happened, not that it caused a change."
)


class Session(NamedTuple):
    """Swings of one day in one lab, as rows of a pool."""

    day: date
    lab: str
    rows: list[int]


def sessions_of(pool: SwingPool, golfer: str, club: str) -> list[Session]:
    """A golfer's sessions with a club, by day and lab."""
    found: dict[tuple[date, str], list[int]] = {}
    for row, (who, with_club) in enumerate(zip(pool.golfers, pool.clubs, strict=True)):
        if (who, with_club) == (golfer, club):
            found.setdefault((pool.recorded_on[row], pool.labs[row]), []).append(row)
    return [Session(day, lab, rows) for (day, lab), rows in sorted(found.items())]


def chosen_sessions(
    sessions: Sequence[Session], golfer: str, club: str, days: tuple[date | None, date | None]
) -> tuple[int, int]:
    """Places of the two sessions that days name.

    Parameters
    ----------
    sessions : sequence of Session
        As from `sessions_of`.
    golfer, club : str
        Whose they are, for messages.
    days : tuple of 2 datetime.date or None
        Day of the earlier session and of the later one. Without a later day it is the last
        session; without an earlier one, the session before the later. Where two labs recorded on
        a day, the earlier one is the first of them and the later one the last.

    Raises
    ------
    CohortRefused
        If there are fewer than two sessions, or the days do not name an earlier and a later one.
    """
    if len(sessions) < 2:
        raise CohortRefused(
            f"golfer {golfer}, {club}: sessions recorded: {len(sessions)}; two are needed to see "
            "a change",
            code="few_sessions",
        )
    there = "; ".join(f"{one.day} in {one.lab}" for one in sessions)
    for day in days:
        if day is not None and all(one.day != day for one in sessions):
            raise CohortRefused(
                f"golfer {golfer}, {club}: no session on {day}; there are {there}",
                code="unknown_session",
            )
    last = max(at for at, one in enumerate(sessions) if days[1] in (None, one.day))
    first = (
        last - 1
        if days[0] is None
        else min(at for at, one in enumerate(sessions) if one.day == days[0])
    )
    if not 0 <= first < last:
        raise CohortRefused(
            f"golfer {golfer}, {club}: nothing to compare {sessions[last].day} with; name an "
            f"earlier session and a later one of {there}",
            code="unknown_session",
        )
    return first, last


def compare_sessions(
    pool: SwingPool,
    golfer: str,
    club: str,
    peers: Cohort,
    noise: MeasurementError | None,
    bands: Bands | None,
    *,
    edition: str,
    events: Sequence[GolferEvent] = (),
    days: tuple[date | None, date | None] = (None, None),
) -> Progress:
    """Judge what changed between two sessions of a golfer.

    Parameters
    ----------
    pool : SwingPool
        In the edition's terms.
    golfer, club : str
    peers : Cohort
        Without the golfer.
    noise : MeasurementError or None
        Noise budget of the club.
    bands : Bands or None
        Of the peers.
    edition : str
    events : sequence of GolferEvent
    days : tuple of 2 datetime.date or None
        Days of the two sessions, as in `chosen_sessions`; by default the last two.

    Returns
    -------
    Progress

    Raises
    ------
    CohortRefused
        If the golfer has fewer than two sessions with the club, or no such sessions.
    """
    sessions = sessions_of(pool, golfer, club)
    places = chosen_sessions(sessions, golfer, club, days)
    first, last = sessions[places[0]], sessions[places[1]]
    curves = [pool.curves_cm[one.rows].mean(axis=0) for one in sessions]
    centre = peers.curves_cm.mean(axis=0)
    own_low, own_high = _own_band(np.mean(curves, axis=0), noise)
    peers_share, peers_low, peers_high = _peers_band(bands)
    return Progress(
        golfer=golfer,
        club=club,
        edition=edition,
        cohort_label=peers.definition.label,
        peers=len(peers.golfers),
        sessions=tuple(
            SessionSummary(day=one.day, lab=one.lab, swings=len(one.rows)) for one in sessions
        ),
        events=tuple(sorted(events, key=lambda event: event.day)),
        compared=places,
        changes=_changes(pool, first, last, peers, noise),
        first_cm=curves[places[0]],
        last_cm=curves[places[1]],
        own_low_cm=own_low,
        own_high_cm=own_high,
        peers_share=peers_share,
        peers_low_cm=peers_low,
        peers_high_cm=peers_high,
        own_deviation_cm=tuple(float(parts_of(curve - centre).overall) for curve in curves),
        cautions=_cautions(first, last, noise, events),
    )


def _changes(
    pool: SwingPool, first: Session, last: Session, peers: Cohort, noise: MeasurementError | None
) -> tuple[FeatureChange, ...]:
    swings = (len(first.rows), len(last.rows))
    changes = []
    for name in FEATURE_NAMES:
        if name not in pool.feature_names:
            continue
        column = pool.features[:, pool.feature_names.index(name)]
        before, after = column[first.rows], column[last.rows]
        if np.isnan(before).all() or np.isnan(after).all():
            continue
        changes.append(
            judge_change(
                name,
                float(np.nanmean(before)),
                float(np.nanmean(after)),
                _spread(name, peers, noise),
                swings,
            )
        )
    return tuple(changes)


def _spread(feature: str, peers: Cohort, noise: MeasurementError | None) -> Spread | None:
    if noise is None or feature not in noise.feature_names or feature not in peers.feature_names:
        return None
    place = noise.feature_names.index(feature)
    column = peers.features[:, peers.feature_names.index(feature)]
    if np.isnan(column).all():
        return None
    return Spread(
        golfer=float(noise.golfer_sd[place]),
        day=float(noise.day_sd[place]),
        swing=float(noise.swing_sd[place]),
        mean=float(np.nanmean(column)),
    )


def _own_band(mean_cm: FloatArray, noise: MeasurementError | None) -> tuple[FloatArray, FloatArray]:
    """Where nine in ten of the golfer's swings lie, by the club's noise about the golfer's mean."""
    if noise is None:
        return np.full((3, NODES), np.nan), np.full((3, NODES), np.nan)
    day, swing = np.nan_to_num(noise.day_node_sd_cm), np.nan_to_num(noise.swing_node_sd_cm)
    reach = special.ndtri((1.0 + BAND_SHARE) / 2.0) * np.hypot(day, swing)
    return mean_cm - reach, mean_cm + reach


def _peers_band(bands: Bands | None) -> tuple[float | None, FloatArray, FloatArray]:
    """Share and ends of the widest band that the peers support."""
    shown = bands.shown_percents() if bands is not None else ()
    for low, high in PEERS_BANDS:
        if bands is not None and low in shown and high in shown:
            ends = (bands.curve_cm[bands.percents.index(end)] for end in (low, high))
            return (high - low) / 100.0, *ends
    missing = np.full((3, NODES), np.nan)
    return None, missing, missing


def _cautions(
    first: Session, last: Session, noise: MeasurementError | None, events: Sequence[GolferEvent]
) -> tuple[str, ...]:
    said = [MANY_FEATURES] if noise is not None else [NO_NOISE]
    if first.lab != last.lab:
        said.append(TWO_LABS)
    if any(first.day <= event.day <= last.day for event in events):
        said.append(WHEN_ONLY)
    return tuple(said)
