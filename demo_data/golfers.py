"""One golfer of the academy from their own seed: person, sessions, swings, ball speeds."""

from dataclasses import dataclass, replace
from datetime import date
from itertools import count

import numpy as np

from demo_data.ball_speed import BALL_SPEED, club_speed_mps
from demo_data.calendar import Calendar
from demo_data.labs import LAB_KEYS
from demo_data.people import Person, invent_person
from demo_data.swings import Habit, invent_body
from norms.records import DatedHandicap
from norms.synthetic import Body, SwingParameters, true_features

CLUBS = ("driver", "iron 7")
STAFF_LEVEL = "to_0"
DRIVERS = ["driver"] * 5
LATE_CM = 4.0
"""How much farther than others like them the student moves toward the ball late."""
MODEL_HZ = 1000.0
"""Grid for the features behind ball speed: values in cm are then true to 0.01 mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedSwing:
    """One swing of the academy, before and beside its capture.

    Attributes
    ----------
    code : str
        Swing code, the capture's file name without its ending.
    golfer, club, lab : str
    recorded_on : datetime.date
    ability : float
        Ability in handicap strokes on that day.
    parameters : SwingParameters
    body : Body
    model_features : dict of str to float
        The features that the ball-speed model uses.
    ball_expected_mps : float
        Ball speed by the model, without what it leaves to the golfer and the swing.
    ball_mps, club_mps : float
        As they were.
    """

    code: str
    golfer: str
    club: str
    lab: str
    recorded_on: date
    ability: float
    parameters: SwingParameters
    body: Body
    model_features: dict[str, float]
    ball_expected_mps: float = 0.0
    ball_mps: float = 0.0
    club_mps: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class GolferTruth:
    """A golfer, their latent pattern and ability, and their swings."""

    person: Person
    swings: tuple[PlannedSwing, ...]

    @property
    def pattern(self) -> str:
        """Latent pattern."""
        return self.person.pattern


def swing_code(golfer: str, day: date, club: str, number: int) -> str:
    """Code of a swing, and name of its file: blanks in the club become hyphens."""
    return f"{golfer}_{day.isoformat()}_{club.replace(' ', '-')}_{number:02d}"


def _sessions(rng: np.random.Generator, calendar: Calendar) -> list[tuple[date, str, int]]:
    """Day, lab and number of swings of each session; 4 to 12 swings in 2 to 4 sessions."""
    swings = int(rng.integers(4, 13))
    count = min(int(rng.integers(2, 5)), swings // 2)
    home = rng.integers(2)
    chosen: dict[date, str] = {}
    while len(chosen) < count:
        lab = LAB_KEYS[home if rng.random() < 0.75 else 1 - home]
        season = calendar.days[lab][len(chosen) % 2]
        chosen[season[int(rng.integers(len(season)))]] = lab
    shares = [len(part) for part in np.array_split(np.arange(swings), count)]
    return [(day, chosen[day], share) for day, share in zip(sorted(chosen), shares, strict=True)]


def _clubs_of_session(rng: np.random.Generator, swings: int) -> list[str]:
    """Driver first, then iron 7; about one golfer's session in eight keeps to one club."""
    drivers = swings - swings // 2
    if rng.random() < 0.12:
        drivers = swings if rng.random() < 0.7 else 0
    return ["driver"] * drivers + ["iron 7"] * (swings - drivers)


def _plan_swings(
    rng: np.random.Generator, person: Person, sessions: list[tuple[date, str, list[str]]]
) -> list[PlannedSwing]:
    """Swings of sessions, each a day, a lab and the club of every swing."""
    habit = Habit(rng, person.pattern)
    build = int(rng.integers(2**32))
    planned = []
    for day, lab, clubs in sessions:
        deviation = habit.day(rng)
        ability = person.ability_on(day)
        for number, club in enumerate(clubs, start=1):
            iron = club == "iron 7"
            parameters = habit.swing(rng, deviation, ability, iron=iron)
            features = true_features(parameters, rate_hz=MODEL_HZ)
            planned.append(
                PlannedSwing(
                    code=swing_code(person.golfer.code, day, club, number),
                    golfer=person.golfer.code,
                    club=club,
                    lab=lab,
                    recorded_on=day,
                    ability=ability,
                    parameters=parameters,
                    body=invent_body(np.random.default_rng(build), person.height_cm, iron=iron),
                    model_features={name: features[name] for name in BALL_SPEED.centre},
                )
            )
    return planned


def _with_speed(
    rng: np.random.Generator, person: Person, planned: list[PlannedSwing]
) -> tuple[PlannedSwing, ...]:
    """Add ball speed from the model and give the club the speed that fits it."""
    own = rng.normal(0.0, BALL_SPEED.golfer_sd)
    done = []
    for swing in planned:
        alike = [one.model_features for one in planned if one.club == swing.club]
        mean = {name: float(np.mean([one[name] for one in alike])) for name in BALL_SPEED.centre}
        iron = swing.club == "iron 7"
        expected = BALL_SPEED.of_golfer(
            female=person.golfer.sex == "female",
            iron=iron,
            ability=swing.ability,
            height_cm=person.height_cm,
            age=person.age_on(swing.recorded_on),
        ) + BALL_SPEED.of_features(swing.model_features, mean)
        ball = expected + own + rng.normal(0.0, BALL_SPEED.swing_sd)
        club = club_speed_mps(rng, ball, swing.ability, iron=iron)
        done.append(
            replace(
                swing,
                ball_expected_mps=expected,
                ball_mps=ball,
                club_mps=club,
                parameters=replace(swing.parameters, club_speed_mps=club),
            )
        )
    return tuple(done)


def invent_golfer(
    seed: np.random.SeedSequence, code: str, level: str, calendar: Calendar
) -> GolferTruth:
    """Invent one golfer of a level with all their swings; the same seed gives the same golfer."""
    rng = np.random.default_rng(seed)
    person = invent_person(rng, code, level)
    sessions = [
        (day, lab, _clubs_of_session(rng, count)) for day, lab, count in _sessions(rng, calendar)
    ]
    planned = _plan_swings(rng, person, sessions)
    return GolferTruth(person=person, swings=_with_speed(rng, person, planned))


def invent_staff(
    seed: np.random.SeedSequence, code: str, lab: str, calendar: Calendar
) -> GolferTruth:
    """Invent one of a lab's staff: a good player whose driver swing every session begins with."""
    rng = np.random.default_rng(seed)
    person = invent_person(rng, code, STAFF_LEVEL)
    sessions = [(day, lab, ["driver"]) for day in calendar.every_day(lab)]
    planned = _plan_swings(rng, person, sessions)
    return GolferTruth(person=person, swings=_with_speed(rng, person, planned))


def invent_student(seed: np.random.SeedSequence, code: str, day: date) -> GolferTruth:
    """Invent a right-handed adult at handicap 14.2 who swings the driver five times in a day."""
    rng = np.random.default_rng(seed)
    person = next(
        drawn for drawn in (invent_person(rng, code, "to_20") for _ in count()) if _is_adult(drawn)
    )
    handicap = DatedHandicap(since=date(2025, 2, 1), index=14.2)
    golfer = replace(person.golfer, handicaps=(handicap,), consents_norms=True)
    person = replace(person, golfer=golfer, ability=handicap.index)
    planned = [_late(one) for one in _plan_swings(rng, person, [(day, "north_bay", DRIVERS)])]
    return GolferTruth(person=person, swings=_with_speed(rng, person, planned))


def _late(swing: PlannedSwing) -> PlannedSwing:
    """The swing with the pelvis crowding the ball late, which is what the student is here for."""
    late_cm = swing.parameters.thrust_late_cm + LATE_CM
    parameters = replace(swing.parameters, thrust_late_cm=late_cm)
    features = true_features(parameters, rate_hz=MODEL_HZ)
    return replace(
        swing,
        parameters=parameters,
        model_features={name: features[name] for name in swing.model_features},
    )


def _is_adult(person: Person) -> bool:
    return (person.golfer.birth_year or 0) < 2000 and person.golfer.hand == "right"
