"""Golfers with their handicaps, and ball speeds: written and read back."""

from collections.abc import Sequence
from datetime import date
from itertools import groupby

from norms.records import BallSpeed, DatedHandicap, Golfer
from norms.records.consent import agreed, needs_guardian
from pipelines.store.consents import ConsentBook
from pipelines.store.database import Database


def add_golfers(database: Database, golfers: Sequence[Golfer]) -> None:
    """Add golfers; one already stored is replaced, handicaps included."""
    import pyarrow as pa

    facts = (
        "code", "hand", "sex", "birth_year", "height_cm", "mass_kg", "professional",
        "consents_norms",
    )  # fmt: skip
    roster = pa.table({fact: [getattr(golfer, fact) for golfer in golfers] for fact in facts})
    dated = [(golfer.code, entry) for golfer in golfers for entry in golfer.handicaps]
    handicaps = pa.table(
        {
            "golfer": [code for code, _ in dated],
            "since": [entry.since for _, entry in dated],
            "handicap_index": [entry.index for _, entry in dated],
        }
    )
    with database.transaction():
        database.take_in("add_golfers", roster)
        database.take_in("forget_handicaps", roster)
        database.take_in("add_handicaps", handicaps)


def golfers(database: Database) -> dict[str, Golfer]:
    """Every golfer by code, in order of code, as they agree to norms today."""
    today = date.today()
    handicaps = {
        code: tuple(DatedHandicap(since=since, index=index) for _, since, index in entries)
        for code, entries in groupby(database.rows("handicaps"), key=lambda row: row[0])
    }
    consents = ConsentBook(database).by_golfer()
    return {
        code: Golfer(
            code=code,
            hand=hand,
            sex=sex,
            birth_year=birth_year,
            height_cm=height_cm,
            mass_kg=mass_kg,
            professional=professional,
            # A no in either place counts: the roster's column, or the dated consents.
            consents_norms=consents_norms
            and agreed(consents.get(code, ()), "norms", birth_year, today),
            needs_guardian=consents_norms
            and needs_guardian(consents.get(code, ()), "norms", birth_year, today),
            handicaps=handicaps.get(code, ()),
        )
        for (
            code, hand, sex, birth_year, height_cm, mass_kg, professional, consents_norms,
        ) in database.rows("golfers")
    }  # fmt: skip


def add_ball_speeds(database: Database, speeds: Sequence[BallSpeed]) -> None:
    """Add ball speeds; that of a swing already stored is replaced."""
    import pyarrow as pa

    table = pa.table(
        {
            "swing": [speed.swing for speed in speeds],
            "ball_speed_mps": [speed.ball_speed_mps for speed in speeds],
            "club_speed_mps": [speed.club_speed_mps for speed in speeds],
        }
    )
    with database.transaction():
        database.take_in("add_ball_speeds", table)


def ball_speeds(database: Database) -> dict[str, BallSpeed]:
    """Every ball speed by swing code."""
    return {
        swing: BallSpeed(swing=swing, ball_speed_mps=ball, club_speed_mps=club)
        for swing, ball, club in database.rows("ball_speeds")
    }
