"""The academy's tables: roster, dated handicaps, ball speeds, consents."""

import csv
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Final

import numpy as np

from demo_data.golfers import PlannedSwing
from norms.records import Golfer
from norms.records.consent import is_junior
from norms.units import mps_to

ASKED_ON: Final = date(2025, 1, 11)
"""Day on which everyone was asked, before the first capture."""
AGREED: Final = 0.95
SHOWN: Final = 0.8
HEALTH: Final = 0.05
ANSWERED: Final = 11 / 12
"""Share of guardians who answered on norms."""


def _write(file: Path, header: tuple[str, ...], rows: Iterable[tuple[object, ...]]) -> None:
    with file.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def _whole(value: float | None) -> str:
    return "" if value is None else f"{value:.0f}"


def handicap_text(index: float) -> str:
    """Handicap index as golfers write it: better than 0 with a plus."""
    return f"+{-index:.1f}" if index < 0 else f"{index:.1f}"


def write_roster(file: Path, golfers: Iterable[Golfer]) -> None:
    """Write one row for each golfer."""
    header = (
        "golfer",
        "sex",
        "birth_year",
        "hand",
        "height_cm",
        "mass_kg",
        "professional",
        "consents_norms",
    )
    rows = (
        (
            one.code,
            one.sex,
            one.birth_year,
            one.hand,
            _whole(one.height_cm),
            _whole(one.mass_kg),
            str(one.professional).lower(),
            str(one.consents_norms).lower(),
        )
        for one in golfers
    )
    _write(file, header, rows)


def write_handicaps(file: Path, golfers: Iterable[Golfer]) -> None:
    """Write one row for each dated handicap."""
    rows = (
        (one.code, entry.since.isoformat(), handicap_text(entry.index))
        for one in golfers
        for entry in one.handicaps
    )
    _write(file, ("golfer", "date", "handicap_index"), rows)


def write_ball_speeds(file: Path, swings: Iterable[PlannedSwing], rng: np.random.Generator) -> None:
    """Write ball and club speed, mph; one swing in 25 has no row, one in 12 no club speed."""
    rows = []
    for swing in swings:
        no_row, no_club = rng.random() < 0.04, rng.random() < 0.08
        if no_row:
            continue
        club = "" if no_club else f"{mps_to(swing.club_mps, 'mph'):.1f}"
        rows.append((swing.code, f"{mps_to(swing.ball_mps, 'mph'):.1f}", club))
    _write(file, ("swing", "ball_speed_mph", "club_speed_mph"), rows)


def write_consents(file: Path, golfers: Iterable[Golfer], rng: np.random.Generator) -> None:
    """Write who agreed to what, guardians for juniors.

    Everyone was asked about research, one golfer in twenty did not agree, and about being named by
    code on another golfer's page, one in five did not. Guardians were asked about coaching and
    norms, too: one in twelve has not answered on norms, and who said no in the roster says it
    here. A few golfers agree that a note on their health is kept.
    """
    rows: list[tuple[str, str, str, str, str]] = []
    everyone = list(golfers)
    for one in everyone:  # research first, so that its draws are those of earlier academies
        rows.append(_consent(one, "research", bool(rng.random() < AGREED)))
    for one in everyone:
        shown, health, answered = (rng.random(3) < (SHOWN, HEALTH, ANSWERED)).tolist()
        rows.append(_consent(one, "shown", shown))
        if health:
            rows.append(_consent(one, "health", True))
        if is_junior(one.birth_year, ASKED_ON):
            rows.append(_consent(one, "coaching", True))
            if answered or not one.consents_norms:
                rows.append(_consent(one, "norms", one.consents_norms))
    rows.sort(key=lambda row: row[0])
    _write(file, ("golfer", "purpose", "given", "date", "guardian"), rows)


def _consent(golfer: Golfer, purpose: str, given: bool) -> tuple[str, str, str, str, str]:
    guardian = is_junior(golfer.birth_year, ASKED_ON)
    return (
        golfer.code,
        purpose,
        str(given).lower(),
        ASKED_ON.isoformat(),
        str(guardian).lower(),
    )
