"""What a capture's file name tells: golfer, date, club, number; and the label made from it."""

import re
import string
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Self

from norms.errors import CaptureRefused
from norms.records import Golfer, SwingLabel
from pipelines.limits import past_day_fault

FIELDS = {
    "golfer": r"(?P<golfer>.+?)",
    "date": r"(?P<date>\d{4}-\d{2}-\d{2})",
    "club": r"(?P<club>.+?)",
    "number": r"(?P<number>\d+)",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FileNamePattern:
    """A pattern of file names such as ``{golfer}_{date}_{club}_{number}``.

    Attributes
    ----------
    text : str
        As written in the profile.
    expression : re.Pattern
        What a file's stem must match as a whole.
    """

    text: str
    expression: re.Pattern[str]

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read a pattern.

        Raises
        ------
        ValueError
            If a field is unknown or repeated, or two fields touch without a character between.
        """
        parts: list[str] = []
        seen: list[str] = []
        for literal, name, _, _ in string.Formatter().parse(text):
            parts.append(re.escape(literal))
            if name is None:
                continue
            if name not in FIELDS:
                known = ", ".join(f"{{{field}}}" for field in FIELDS)
                raise ValueError(f"unknown field {{{name}}} in '{text}'; fields are {known}")
            if name in seen:
                raise ValueError(f"field {{{name}}} stands twice in '{text}'")
            if seen and not literal:
                raise ValueError(
                    f"'{text}' needs a character between {{{seen[-1]}}} and {{{name}}}"
                )
            seen.append(name)
            parts.append(FIELDS[name])
        return cls(text=text, expression=re.compile("".join(parts)))

    def read(self, stem: str) -> dict[str, str] | None:
        """Fields of a file's stem, or None where it does not match."""
        match = self.expression.fullmatch(stem)
        return None if match is None else match.groupdict()


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenLabel:
    """What the caller states about every file, in place of what the name may say."""

    golfer: str | None = None
    club: str | None = None
    recorded_on: date | None = None


def label_file(
    path: Path,
    pattern: FileNamePattern | None,
    *,
    lab: str,
    content_hash: str,
    given: GivenLabel | None = None,
) -> SwingLabel:
    """Label a capture from its file name, and from what the caller states.

    The file's stem is the swing's code. What the caller states goes before what the name says; a
    hyphen in the club stands for a space.

    Raises
    ------
    CaptureRefused
        ``file_name``: the name does not match the pattern, or golfer, date or club is neither in
        it nor given. ``day``: nothing can have been recorded on its date.
    """
    given = given or GivenLabel()
    stated = given.golfer is not None and given.club is not None and given.recorded_on is not None
    found: dict[str, str] = {}
    if pattern is not None and not stated:
        match = pattern.read(path.stem)
        if match is None:
            raise _unnamed(path, f"the name does not follow '{pattern.text}'")
        found = match
    golfer = given.golfer or found.get("golfer")
    club = given.club or found.get("club")
    if golfer is None:
        raise _unnamed(path, "the golfer is not in the name")
    if club is None:
        raise _unnamed(path, "the club is not in the name")
    recorded_on = given.recorded_on or _date_of(path, found.get("date"))
    if fault := past_day_fault(recorded_on):
        raise CaptureRefused(f"{path.name}: the day {recorded_on} {fault}", code="day")
    return SwingLabel(
        swing=path.stem,
        golfer=golfer,
        club=" ".join(club.lower().replace("-", " ").split()),
        recorded_on=recorded_on,
        lab=lab,
        source=path.name,
        content_hash=content_hash,
    )


def refuse_before_birth(label: SwingLabel, golfer: Golfer) -> None:
    """Refuse a swing of a year in which its golfer was not yet born.

    Raises
    ------
    CaptureRefused
        ``day``.
    """
    if fault := past_day_fault(label.recorded_on, birth_year=golfer.birth_year):
        raise CaptureRefused(f"{label.source}: the day {label.recorded_on} {fault}", code="day")


def _date_of(path: Path, text: str | None) -> date:
    if text is None:
        raise _unnamed(path, "the date is not in the name")
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise _unnamed(path, f"the name's date {text} is not a day of the calendar") from None


def _unnamed(path: Path, what: str) -> CaptureRefused:
    return CaptureRefused(
        f"{path.name}: {what}; rename the file, or state --golfer, --club and --date",
        code="file_name",
    )
