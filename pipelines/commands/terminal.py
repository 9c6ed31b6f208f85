"""What commands share: options, and how results reach a person.

What is asked for goes to standard output, progress to standard error.
"""

import math
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

import typer

from pipelines.commands.declared_paths import READ, Output
from pipelines.limits import LARGEST_VALUE, LONGEST_CAPTURE_S, LONGEST_SENTENCE, OLDEST

if TYPE_CHECKING:
    from pipelines.progress import Progress


DAY: Final = ["%Y-%m-%d"]


def past_day(moment: datetime | None) -> datetime | None:
    """Callback of an option that names a day on which something happened."""
    from pipelines.limits import past_day_fault

    if moment is not None and (fault := past_day_fault(moment.date())):
        raise typer.BadParameter(f"{moment.date()} {fault}")
    return moment


def planned_day(moment: datetime) -> datetime:
    """Callback of an option that names a day to come."""
    from pipelines.limits import planned_day_fault

    if fault := planned_day_fault(moment.date()):
        raise typer.BadParameter(f"{moment.date()}: {fault}")
    if moment <= datetime.now():
        raise typer.BadParameter(f"{moment.date()}: is not after today; name a day to come")
    return moment


def short_enough(words: str | None) -> str | None:
    """Callback of an option that takes words which are kept."""
    if words is not None and len(words) > LONGEST_SENTENCE:
        raise typer.BadParameter(
            f"{len(words):,} characters, and at most {LONGEST_SENTENCE:,} are kept; shorten it"
        )
    return words


StorePath = Annotated[Path, typer.Option("--store", help="The store's file."), READ]
EditionName = Annotated[str, typer.Option("--edition", help="Name of the edition.")]
ProfilePath = Annotated[Path, typer.Option("--profile", help="The lab's profile, TOML."), READ]
OptionalProfile = Annotated[
    Path | None,
    typer.Option("--profile", help="The lab's profile; by default the one in the store that fits."),
    READ,
]
JsonPath = Annotated[
    Path | None,
    typer.Option("--json", help="Also write JSON here; lengths in cm."),
    Output(kind="DOCUMENT"),
]
HtmlPath = Annotated[
    Path | None, typer.Option("--html", help="Also write a page here."), Output(kind="PAGE")
]
LengthUnit = Annotated[
    Literal["in", "cm"] | None,
    typer.Option("--unit", help="Unit shown; by default the academy's."),
]
Who = Annotated[
    str,
    typer.Option("--who", callback=short_enough, help="Who decides, as a role and not a name."),
]
ForTheLog = Annotated[
    str,
    typer.Option(
        "--who", callback=short_enough, help="Who does it, for the log: as a role and not a name."
    ),
]
Why = Annotated[
    str, typer.Option("--why", callback=short_enough, help="The reason, in a sentence.")
]
GolferCode = Annotated[str | None, typer.Option("--golfer", help="Golfer's code.")]
Club = Annotated[str | None, typer.Option("--club", help="Club, as the edition names it.")]
Day = Annotated[
    datetime | None,
    typer.Option("--date", formats=DAY, callback=past_day, help="Day of the swing."),
]
HandSide = Annotated[
    Literal["right", "left"] | None,
    typer.Option("--hand", help="Side the golfer plays from."),
]


def handicap_of(text: str) -> float:
    """A handicap index as a person writes it; misuse of the command where it is none."""
    from pipelines.import_tables import read_handicap
    from pipelines.text_tables import CellFault

    try:
        return read_handicap(text)
    except CellFault as fault:
        raise typer.BadParameter(f"{text}: {fault}") from None


def seconds_of(text: str) -> float:
    """A time within a capture, in seconds."""
    return _number_within(text, 0.0, LONGEST_CAPTURE_S)


def years_of(text: str) -> float:
    """An age in years."""
    return _number_within(text, 0.0, OLDEST)


def value_of(text: str) -> float:
    """A value of a feature, in any of its units."""
    return _number_within(text, -LARGEST_VALUE, LARGEST_VALUE)


def _number_within(text: str, low: float, high: float) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not low <= value <= high:  # nan is nowhere
        raise typer.BadParameter(f"{text[:40]}: a number from {low:g} to {high:g} is needed")
    return value


def refuse_unheard(given: Mapping[str, object], because: str) -> None:
    """Misuse of the command where an option was given that would be dropped in silence.

    Parameters
    ----------
    given : Mapping of str to object
        Values by option.
    because : str
        Why they do not apply, after "does not apply".
    """
    unheard = [name for name, value in given.items() if value not in (None, False, "", [], ())]
    if unheard:
        verb = "does" if len(unheard) == 1 else "do"
        raise typer.BadParameter(f"{', '.join(unheard)} {verb} not apply {because}")


@contextmanager
def shown_progress() -> Iterator["Progress"]:
    """Progress on standard error for the length of a ``with`` block."""
    from pipelines.progress import Progress

    with Progress() as progress:
        yield progress


def print_rows(rows: Sequence[Sequence[str]]) -> None:
    """Rows as aligned columns; the first row is the heading."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in rows[0]:
        table.add_column(heading, overflow="fold")
    for row in rows[1:]:
        table.add_row(*map(Text, row))  # as it stands: a code may hold brackets
    Console(highlight=False, width=None if sys.stdout.isatty() else 160).print(table)


def print_sentences(sentences: Sequence[str]) -> None:
    """Sentences, one a line."""
    for sentence in sentences:
        print(sentence)


def write_page(path: Path | None, page: str) -> None:
    """A page where one was asked for."""
    from pipelines.files import write_whole
    from pipelines.output_kinds import PAGE

    if path is not None:
        write_whole(path, page, PAGE)


def write_json(path: Path | None, document: Mapping[str, Any]) -> None:
    """JSON where it was asked for."""
    from pipelines.files import json_text, write_whole
    from pipelines.output_kinds import DOCUMENT

    if path is not None:
        write_whole(path, json_text(document), DOCUMENT)


def counted(count: int, thing: str) -> str:
    """A count with its thing, e.g. "1 golfer" and "12 golfers"."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"
