"""The academy's tables: roster, dated handicaps, ball speeds."""

import csv
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from demo_data.golfers import PlannedSwing
from norms.records import Golfer
from norms.units import mps_to


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
