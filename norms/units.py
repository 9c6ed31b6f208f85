"""The one place that converts units.

Inside: centimetres, seconds, and metres per second for the speeds of ball and club.
"""

from typing import Final

CM_PER_UNIT: Final[dict[str, float]] = {
    "mm": 0.1,
    "cm": 1.0,
    "dm": 10.0,
    "m": 100.0,
    "in": 2.54,
    "ft": 30.48,
}
"""Centimetres in one of each length unit (inch and foot by the 1959 international definition)."""

MPS_PER_UNIT: Final[dict[str, float]] = {"mps": 1.0, "mph": 0.44704, "kmh": 1.0 / 3.6}
"""Metres per second in one of each speed unit."""

KG_PER_UNIT: Final[dict[str, float]] = {"kg": 1.0, "lb": 0.45359237}
"""Kilograms in one of each unit of mass (pound by the 1959 international definition)."""

LENGTH_UNITS_SHOWN: Final = ("in", "cm")


def cm_to(value_cm: float, unit: str) -> float:
    """Length in the reader's unit.

    Parameters
    ----------
    value_cm : float
        Length in centimetres.
    unit : {"in", "cm", "mm", "m", "dm", "ft"}
        Unit wanted.

    Returns
    -------
    float
    """
    return value_cm / CM_PER_UNIT[unit]


def mps_to(value_mps: float, unit: str) -> float:
    """Speed in the reader's unit, one of "mps", "mph", "kmh"."""
    return value_mps / MPS_PER_UNIT[unit]
