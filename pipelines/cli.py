"""The command line: words and options only; every job lives in a module of its own.

What is asked for goes to standard output, progress to standard error. Exit codes: 0 done,
1 refused or nothing could be done, 2 the command was not understood.
"""

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from norms.errors import NormsError

if TYPE_CHECKING:
    from pipelines.progress import Progress

app = typer.Typer(
    name="norms",
    help="Norms for pelvis sway, thrust and lift in the golf swing: collect captures, build "
    "norms from many golfers, place a swing among its peers.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

StorePath = Annotated[Path, typer.Option("--store", help="The store's file.")]
EditionName = Annotated[str, typer.Option("--edition", help="Name of the edition.")]
JsonPath = Annotated[Path | None, typer.Option("--json", help="Also write JSON here.")]
HtmlPath = Annotated[Path | None, typer.Option("--html", help="Also write a page here.")]
LengthUnit = Annotated[Literal["in", "cm"] | None, typer.Option("--unit", help="Unit shown.")]


def _handicap(text: str) -> float:
    from pipelines.import_tables import read_handicap
    from pipelines.text_tables import CellFault

    try:
        return read_handicap(text)
    except CellFault as fault:
        raise typer.BadParameter(f"{text}: {fault}") from None


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(help="Where to write it.")] = Path("demo-output"),
    golfers: Annotated[int, typer.Option(help="Golfers of the invented academy.", min=60)] = 320,
    seed: Annotated[int, typer.Option(help="Seed of everything random.")] = 2026,
) -> None:
    """Run the whole job on an invented academy, ending with the path of an index page."""
    from pipelines.demo import run_demo

    with _progress() as progress:
        index = run_demo(folder, golfers=golfers, seed=seed, progress=progress)
    print(index)


@app.command()
def roster(
    table: Annotated[Path, typer.Argument(help="CSV of golfers.")],
    store: StorePath,
    handicaps: Annotated[Path | None, typer.Option(help="CSV of dated handicaps.")] = None,
) -> None:
    """Read golfers, and their dated handicaps, into a store."""
    from pipelines.import_tables import import_roster
    from pipelines.store import open_store

    with open_store(store, create=True) as opened:
        count = import_roster(opened, table, handicaps)
    print(f"{_count(count, 'golfer')} read into {store}")


@app.command()
def speeds(
    table: Annotated[Path, typer.Argument(help="CSV of ball speeds.")], store: StorePath
) -> None:
    """Read ball speeds by swing code into a store."""
    from pipelines.import_tables import import_ball_speeds
    from pipelines.store import open_store

    with open_store(store, create=True) as opened:
        count = import_ball_speeds(opened, table)
    print(f"{_count(count, 'ball speed')} read into {store}")


@app.command()
def settings(
    table: Annotated[Path, typer.Argument(help="TOML of the academy's choices.")],
    store: StorePath,
) -> None:
    """Keep the academy's choices in a store: levels, smallest cell, units shown."""
    from pipelines.settings import keep_settings, read_settings
    from pipelines.store import open_store

    choices = read_settings(table)
    with open_store(store, create=True) as opened:
        keep_settings(opened, choices)
    print(f"{_count(len(choices.levels), 'level')}, smallest cell {choices.smallest_cell} golfers")


@app.command()
def collect(
    paths: Annotated[list[Path], typer.Argument(help="Capture files, or folders of them.")],
    store: StorePath,
    profile: Annotated[Path, typer.Option(help="The lab's profile, TOML.")],
    workers: Annotated[int, typer.Option(help="Processes that read captures.", min=1)] = 2,
    json_path: JsonPath = None,
    html: HtmlPath = None,
) -> None:
    """Read captures into a store: C3D, BVH, or tables (CSV, Parquet)."""
    from pipelines.collect.profile import load_profile
    from pipelines.collect_captures import collect_captures
    from pipelines.lab_profiles import keep_profile
    from pipelines.store import open_store
    from reports.tables import collect_table, reasons_table

    lab_profile = load_profile(profile)
    with _progress() as progress, open_store(store, create=True) as opened:
        keep_profile(opened, lab_profile)
        try:
            outcomes = collect_captures(
                paths,
                opened,
                lab_profile,
                workers=workers,
                progress=progress.step("reading captures"),
            )
        except KeyboardInterrupt:
            print("norms: interrupted; what was stored stays, run it again", file=sys.stderr)
            raise typer.Exit(130) from None
    if not outcomes:
        raise NormsError("no capture files found in what was named", code="nothing_found")
    _print_rows(collect_table(outcomes))
    reasons = reasons_table(outcomes)
    if len(reasons) > 1:
        print()
        _print_rows(reasons)
    if json_path:
        _write_json(json_path, {"files": [_plain(outcome) for outcome in outcomes]})
    if html:
        from reports.collect_page import collect_page

        _write(html, collect_page(outcomes))
    if all(outcome.status == "rejected" for outcome in outcomes):
        raise typer.Exit(1)


@app.command()
def build(
    store: StorePath,
    edition: EditionName,
    html: HtmlPath = None,
    unit: LengthUnit = None,
) -> None:
    """Build norms from a store's swings and freeze them as a named edition."""
    from pipelines.build_edition import build_edition
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.tables import edition_table

    with open_store(store) as opened:
        built = build_edition(opened, edition)
        unit = unit or shown_unit(opened)
    _print_rows(edition_table(built))
    print(f"edition {built.name}, content hash {built.content_hash}")
    if html:
        from reports.edition_page import edition_page

        _write(html, edition_page(built, unit=unit))


@app.command()
def place(
    capture: Annotated[Path, typer.Argument(help="The capture to place.")],
    store: StorePath,
    edition: EditionName,
    profile: Annotated[
        Path | None,
        typer.Option(help="The lab's profile; by default the one in the store that fits."),
    ] = None,
    golfer: Annotated[str | None, typer.Option(help="Golfer's code.")] = None,
    club: Annotated[str | None, typer.Option(help="Club, as the edition names it.")] = None,
    date: Annotated[
        datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Day of the swing.")
    ] = None,
    hand: Annotated[
        Literal["right", "left"] | None, typer.Option(help="Side the golfer plays from.")
    ] = None,
    handicap: Annotated[
        float | None,
        typer.Option(parser=_handicap, help="Handicap index of the day, e.g. 12.4 or +1.8."),
    ] = None,
    level: Annotated[str | None, typer.Option(help="Level to hold against, or 'all'.")] = None,
    json_path: JsonPath = None,
    html: HtmlPath = None,
    unit: LengthUnit = None,
) -> None:
    """Place one capture among its peers in an edition."""
    from pipelines.place_golfer import PlaceRequest, place_capture
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.tables import placement_table

    request = PlaceRequest(
        capture=capture,
        profile=profile,
        edition=edition,
        golfer=golfer,
        club=club,
        day=date.date() if date else None,
        hand=hand,
        handicap=handicap,
        level=level,
    )
    with open_store(store) as opened:
        placement, document = place_capture(opened, request)
        unit = unit or shown_unit(opened)
    _print_rows(placement_table(placement, unit=unit))
    if json_path:
        _write_json(json_path, document)
    if html:
        from reports.placement_page import placement_page

        _write(html, placement_page(placement, unit=unit))


def main() -> None:
    """Run the command line; a refusal is one line on standard error, never a traceback."""
    try:
        app()
    except NormsError as refusal:
        print(f"norms: {refusal.message}", file=sys.stderr)
        sys.exit(1)


@contextmanager
def _progress() -> Iterator["Progress"]:
    from pipelines.progress import Progress

    with Progress() as progress:
        yield progress


def _print_rows(rows: list[list[str]]) -> None:
    """Rows as aligned columns; the first row is the heading."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in rows[0]:
        table.add_column(heading, overflow="fold")
    for row in rows[1:]:
        table.add_row(*map(Text, row))  # as it stands: a code may hold brackets
    console = Console(highlight=False, width=None if sys.stdout.isatty() else 160)
    console.print(table)


def _write(path: Path, text: str) -> None:
    from pipelines.files import write_whole

    write_whole(path, text)


def _write_json(path: Path, document: dict[str, Any]) -> None:
    _write(path, json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def _plain(outcome: Any) -> dict[str, Any]:
    from dataclasses import asdict

    return asdict(outcome)


def _count(count: int, thing: str) -> str:
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"
