"""Drafts a lab's profile from one of its captures, with the evidence for every line.

Nothing is silently guessed: what is not sure or likely is commented out, with the reason beside
it, and a person who knows the lab decides.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby
from pathlib import Path
from typing import Final

import numpy as np

from norms.errors import NormsError
from norms.records import SwingLabel
from norms.vocabulary import CLUB_ROLE, PELVIS_ROLES
from pipelines.collect.file_name import FileNamePattern
from pipelines.collect.file_work import FileWork
from pipelines.collect.profile import PELVIS_SETS
from pipelines.collect.raw_points import RawPoints
from pipelines.collect.shield import WorkerPool
from pipelines.draft.geometry import axes_statements, unit_statement
from pipelines.draft.pelvis import arrange_pelvis, find_pelvis, pelvis_guesses
from pipelines.draft.roles import RoleGuess, guess_roles, role_statements, toml_text, words_of
from pipelines.draft.statement import Statement, Sure

EVENT_WORDS: Final[dict[str, tuple[frozenset[str], ...]]] = {
    "start": (frozenset({"start"}), frozenset({"takeaway"})),
    "top": (frozenset({"top"}),),
    "impact": (frozenset({"impact"}), frozenset({"contact"})),
    "finish": (frozenset({"finish"}),),
}
FILE_NAMES: Final = (
    "{golfer}_{date}_{club}_{number}",
    "{golfer}-{date}-{club}-{number}",
    "{date}_{golfer}_{club}_{number}",
    "{golfer}_{club}_{date}_{number}",
)
"""Patterns that are tried on a capture's name."""
RATE_UNKNOWN_HZ: Final = 120.0
"""Only to find the stretch at address where a file states no rate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileDraft:
    """A drafted profile.

    Attributes
    ----------
    source : str
        Name of the capture it was drafted from.
    statements : tuple of Statement
        In the order of the profile.
    subjects : tuple of str
        Subjects' names that stand before the file's labels and were left out.
    """

    source: str
    statements: tuple[Statement, ...]
    subjects: tuple[str, ...] = ()

    @property
    def open_questions(self) -> tuple[Statement, ...]:
        """Statements that a person has to decide."""
        return tuple(s for s in self.statements if s.sure == "unsure")

    def toml(self) -> str:
        """The profile as TOML, evidence as comments, what is unsure commented out."""
        lines = [
            f"# Drafted from {self.source}: check every line against the lab, and decide those",
            "# that are commented out.",
        ]
        if self.subjects:
            said = ", ".join(repr(name) for name in self.subjects)
            lines.append(
                f"# The file's labels stand behind {said}; that is left out, so that the files of "
                "other subjects fit."
            )
        for section, statements in groupby(self.statements, key=lambda s: s.section):
            lines += ["", f"[{section}]"]
            for statement in statements:
                lines.append(f"# {statement.sure}: {statement.evidence}")
                lines.append(
                    statement.line if statement.sure != "unsure" else f"# {statement.line}"
                )
        return "\n".join(lines) + "\n"


def draft_profile(capture: Path, *, lab: str | None = None) -> ProfileDraft:
    """Draft a profile from a capture file.

    Parameters
    ----------
    capture : Path
    lab : str, optional
        Name of the laboratory.

    Returns
    -------
    ProfileDraft

    Raises
    ------
    NormsError
        If the file cannot be read.
    """
    return draft_from_points(read_shielded(capture), source=capture.name, lab=lab)


def read_shielded(capture: Path) -> RawPoints:
    """A capture's points in its own terms, read in a worker process."""
    label = SwingLabel(
        swing=capture.stem,
        golfer="unnamed",
        club="any",
        recorded_on=date.min,
        lab="",
        source=capture.name,
        content_hash="",
    )
    work = FileWork(path=capture, label=label, hand="right")
    with WorkerPool(None, workers=1, job="pipelines.collect.work:raw_points_of") as pool:
        ((_, result),) = pool.run([work])
    if isinstance(result, NormsError):
        raise result
    raw: RawPoints = result
    return raw


def draft_from_points(raw: RawPoints, *, source: str, lab: str | None = None) -> ProfileDraft:
    """Draft a profile from points that were read; see ``draft_profile``."""
    raw, subjects = _without_subjects(raw)
    rate_hz = raw.rate_hz or RATE_UNKNOWN_HZ
    guesses = guess_roles(raw.labels)
    if set(PELVIS_ROLES) <= guesses.keys():
        arranged = arrange_pelvis(guesses, raw.points, rate_hz).places
        points = role_statements(guesses, raw.points, arranged)
    elif any(set(roles) <= guesses.keys() for roles in PELVIS_SETS):
        points = role_statements(guesses, raw.points)
    else:
        points = role_statements(guesses, raw.points)
        found, statements = _pelvis_by_geometry(raw, guesses, rate_hz)
        guesses, points = guesses | found, [*points, *statements]
    return ProfileDraft(
        source=source,
        statements=(
            _lab_statement(lab),
            *_file_name_statements(source),
            *points,
            unit_statement(guesses, raw.points, raw.unit),
            *axes_statements(guesses, raw.points, rate_hz),
            _rate_statement(raw.rate_hz),
            *_event_statements(raw, has_club=CLUB_ROLE in guesses),
        ),
        subjects=subjects,
    )


def _without_subjects(raw: RawPoints) -> tuple[RawPoints, tuple[str, ...]]:
    """Labels without the subject's name before them, unless one file then names a point twice."""
    parts = [label.rpartition(":") for label in raw.labels]
    bare = [label for _, _, label in parts if label]
    if len(set(bare)) < len(bare):
        return raw, ()
    subjects = tuple(sorted({subject for subject, _, _ in parts if subject}))
    return replace(raw, labels=tuple(label for _, _, label in parts)), subjects


def _lab_statement(lab: str | None) -> Statement:
    if lab:
        said = "as stated"
        return Statement(section="lab", line=f"name = {toml_text(lab)}", sure="sure", evidence=said)
    said = "no file says which lab it is from"
    return Statement(section="lab", line='name = ""', sure="unsure", evidence=said)


def _file_name_statements(source: str) -> list[Statement]:
    """A pattern that the capture's own name fits, to be decided by a person."""
    stem = Path(source).stem
    said = "this file's name fits it; see that the lab's other files do"
    return [
        Statement(
            section="capture",
            line=f"file_name = {toml_text(pattern)}",
            sure="unsure",
            evidence=said,
        )
        for pattern in FILE_NAMES
        if FileNamePattern.parse(pattern).expression.fullmatch(stem) is not None
    ][:1]


def _pelvis_by_geometry(
    raw: RawPoints, guesses: Mapping[str, RoleGuess], rate_hz: float
) -> tuple[dict[str, RoleGuess], list[Statement]]:
    """Pelvis markers that no words name: found by geometry, or lines for a person to fill."""
    finding = find_pelvis(raw.labels, guesses, raw.points, rate_hz)
    told: dict[str, RoleGuess] = {}
    sure: Sure = "unsure"
    said = finding.evidence
    if finding.places:
        told, sure, said = pelvis_guesses(finding, raw.labels)
    if told:
        lines = [f"{role} = {toml_text(guess.label)}" for role, guess in told.items()]
    else:
        lines = [f'{role} = ""' for role in PELVIS_ROLES if role not in guesses]
        unused = set(raw.labels) - {guess.label for guess in guesses.values()} - {""}
        some = ", ".join(sorted(unused)[:12]) or "none"
        said = f"no label's words name it, and {said}; labels without a role are {some}"
    return told, [
        Statement(section="points", line=line, sure=sure, evidence=said) for line in lines
    ]


def _rate_statement(rate_hz: float | None) -> Statement:
    if rate_hz is None:
        said = "the file states no rate"
        return Statement(section="rate", line="hz = 240", sure="unsure", evidence=said)
    return Statement(
        section="rate", line=f"hz = {rate_hz:.6g}", sure="sure", evidence="the file states it"
    )


def _event_statements(raw: RawPoints, *, has_club: bool) -> list[Statement]:
    source, said = (
        ("club", "a club head is tracked") if has_club else ("hands", "no club head is tracked")
    )
    statements = [
        Statement(section="events", line=f'source = "{source}"', sure="likely", evidence=said)
    ]
    for event, options in EVENT_WORDS.items():
        for label in raw.events_s:
            if any(option <= words_of(label) for option in options):
                times = np.array(raw.events_s[label])
                once = len(times) == 1
                said = f"the file has an event of that name at {times.round(3).tolist()} s"
                statements.append(
                    Statement(
                        section="events",
                        line=f"{event} = {toml_text(label)}",
                        sure="likely" if once else "unsure",
                        evidence=said,
                    )
                )
                break
    return statements
