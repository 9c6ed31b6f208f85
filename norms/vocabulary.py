"""Every word the project uses for axes, events, phases, people and points, in one place.

The dimension letters used in docstrings are: t samples, m points, p phase nodes,
a axes, n golfers, s swings, d features, q percentiles.
"""

from typing import Final, Literal

Axis = Literal["sway", "thrust", "lift"]
AXES: Final[tuple[Axis, ...]] = ("sway", "thrust", "lift")

AXIS_ENDS: Final[dict[str, tuple[str, str]]] = {
    # words for the positive and the negative end of each axis
    "sway": ("toward target", "away from target"),
    "thrust": ("toward ball", "away from ball"),
    "lift": ("up", "down"),
}

Event = Literal["address", "start", "top", "impact", "finish"]
EVENTS: Final[tuple[Event, ...]] = ("address", "start", "top", "impact", "finish")

Phase = Literal["backswing", "downswing", "follow_through"]
PHASES: Final[tuple[Phase, ...]] = ("backswing", "downswing", "follow_through")
PHASE_NAMES: Final[dict[str, str]] = {
    "backswing": "backswing",
    "downswing": "downswing",
    "follow_through": "follow-through",
}

NODES_PER_PHASE: Final = 101
"""Nodes of one phase, both ends included; neighbouring phases share their boundary node."""
NODES: Final = 301
EVENT_NODES: Final[dict[str, int]] = {"start": 0, "top": 100, "impact": 200, "finish": 300}

Hand = Literal["right", "left"]
HANDS: Final[tuple[Hand, ...]] = ("right", "left")
Sex = Literal["female", "male"]
SEXES: Final[tuple[Sex, ...]] = ("female", "male")

BAND_PERCENTS: Final[tuple[float, ...]] = (5.0, 10.0, 25.0, 50.0, 75.0, 90.0, 95.0)

HANDICAP_LOWEST: Final = -10.0
"""Best handicap index that is believed: +10, stored as -10.0."""
HANDICAP_HIGHEST: Final = 54.0
"""Highest index of the World Handicap System (Rules of Handicapping, Rule 5)."""

PELVIS_ROLES: Final = ("left_asis", "right_asis", "left_psis", "right_psis")
"""Skin markers over the iliac spines: anterior superior (asis) and posterior superior (psis)."""
HIP_ROLES: Final = ("left_hip", "right_hip")
"""Hip joint centres, where a capture carries them itself."""
CENTRE_ROLE: Final = "pelvis_centre"
"""The midpoint of the hip joint centres, where a table carries it already computed."""
HAND_ROLES: Final = ("left_hand", "right_hand")
CLUB_ROLE: Final = "club_head"
FOOT_ROLES: Final = ("left_foot", "right_foot")
"""One point for each foot, at any place of it that is the same on both."""
ROLES: Final[tuple[str, ...]] = (
    *PELVIS_ROLES,
    *HIP_ROLES,
    CENTRE_ROLE,
    *HAND_ROLES,
    CLUB_ROLE,
    *FOOT_ROLES,
)
