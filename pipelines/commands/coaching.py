"""Commands that a coach gives beside a student."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from norms.errors import NormsError
from pipelines.commands.declared_paths import READ, Output
from pipelines.commands.terminal import (
    DAY,
    Club,
    Day,
    EditionName,
    ForTheLog,
    GolferCode,
    HandSide,
    HtmlPath,
    JsonPath,
    LengthUnit,
    OptionalProfile,
    StorePath,
    counted,
    handicap_of,
    past_day,
    print_rows,
    print_sentences,
    refuse_unheard,
    short_enough,
    write_json,
    write_page,
)
from pipelines.roles import NOT_STATED

if TYPE_CHECKING:
    from norms.records.golfer_place import GolferPlace
    from pipelines.store import Store


def place(
    store: StorePath,
    edition: EditionName,
    captures: Annotated[
        list[Path] | None,
        typer.Argument(help="One capture or several of one golfer and club."),
        READ,
    ] = None,
    everyone: Annotated[
        bool, typer.Option("--all", help="Place every golfer by their newest session instead.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(help="With --all: folder for a sheet of each golfer."),
        Output(kind="PAGE", folder=True),
    ] = None,
    profile: OptionalProfile = None,
    golfer: GolferCode = None,
    club: Club = None,
    day: Day = None,
    hand: HandSide = None,
    handicap: Annotated[
        float | None,
        typer.Option(parser=handicap_of, help="Handicap index of the day, e.g. 12.4 or +1.8."),
    ] = None,
    level: Annotated[str | None, typer.Option(help="Level to hold against, or 'all'.")] = None,
    cohort: Annotated[
        str | None, typer.Option(help="Cohort to hold against instead of a level.")
    ] = None,
    notes: Annotated[
        Path | None, typer.Option(help="TOML of the academy's own coaching notes."), READ
    ] = None,
    json_path: JsonPath = None,
    html: HtmlPath = None,
    standard: Annotated[
        str | None, typer.Option(help="Also hold the swing against this approved standard.")
    ] = None,
    details: Annotated[
        Path | None,
        typer.Option(
            help="Also write a second page: the curves in numbers, events, like handicap.",
        ),
        Output(kind="PAGE"),
    ] = None,
    csv: Annotated[
        Path | None,
        typer.Option(
            "--csv",
            help="Also write a table here; lengths in cm, as its column of units says.",
        ),
        Output(kind="TABLE"),
    ] = None,
    unit: LengthUnit = None,
    who: ForTheLog = NOT_STATED,
) -> None:
    """Place a golfer among their peers in an edition, by one capture or several."""
    if everyone:
        of_one = {
            "a capture": captures,
            "--profile": profile,
            "--golfer": golfer,
            "--date": day,
            "--hand": hand,
            "--handicap": None if handicap is None else str(handicap),  # 0 is a handicap
            "--level": level,
            "--html": html,
            "--json": json_path,
            "--details": details,
            "--notes": notes,
            "--standard": standard,
        }
        refuse_unheard(
            of_one,
            "with --all; with it, --out writes the sheets and --csv the table, and norms standard "
            "check holds everyone against a standard",
        )
        _place_everyone(store, edition, club=club, cohort=cohort, out=out, csv=csv, unit=unit)
        return
    if not captures:
        raise typer.BadParameter("name a capture, or --all for everyone of the roster")
    refuse_unheard({"--out": out}, "without --all; --html writes the sheet of one golfer")
    if cohort is not None:
        refuse_unheard({"--level": level}, "with --cohort: a cohort is held against by itself")
    from pipelines.feature_table import write_features
    from pipelines.place_sheet import place_sheet
    from pipelines.read_capture import PlaceRequest
    from pipelines.settings import settings_of
    from pipelines.store import open_store
    from reports.sheet_page import sheet_findings, sheet_page
    from reports.tables import placement_table

    request = PlaceRequest(
        capture=captures[0],
        profile=profile,
        edition=edition,
        golfer=golfer,
        club=club,
        day=day.date() if day else None,
        hand=hand,
        handicap=handicap,
        level=level,
        cohort=cohort,
    )
    with open_store(store) as opened:
        found, document = place_sheet(opened, request, more=captures[1:], notes=notes, who=who)
        choices = settings_of(opened)
        verdict = _judged(opened, found, standard, who) if standard else None
    length = unit or choices.length_unit
    write_json(json_path, document)
    if html is not None:
        write_page(html, sheet_page(found, unit=length, speed_unit=choices.speed_unit))
    if details is not None:
        from reports.placement_page import placement_page

        page = placement_page(found.placement, swings=len(found.swings), unit=length)
        write_page(details, page)
    if csv is not None:
        write_features(csv, [found])
    print_sentences(sheet_findings(found, unit=length))
    print_rows(placement_table(found, unit=length))
    if verdict:
        print(verdict)


def _judged(store: "Store", place: "GolferPlace", standard: str, who: str) -> str:
    """The verdict of a standard on the placed swing, kept with edition and standard."""
    from pipelines.judge_placement import judge_placement

    verdict = judge_placement(store, place.placement, standard, who=who)
    return f"Standard {standard}: {verdict.verdict}."


def _place_everyone(
    store: Path,
    edition: str,
    *,
    club: str | None,
    cohort: str | None,
    out: Path | None,
    csv: Path | None,
    unit: str | None,
) -> None:
    """Sheets and a table of a whole roster; who cannot be placed is named with the reason."""
    from pipelines.codes import FileNames
    from pipelines.feature_table import write_features
    from pipelines.place_roster import place_roster
    from pipelines.settings import settings_of
    from pipelines.sheet_files import write_sheet
    from pipelines.store import open_store
    from reports.sheet_page import sheet_page

    placed, refused, kept = [], [], []
    names = FileNames()
    with open_store(store) as opened:
        choices = settings_of(opened)
        length = unit or choices.length_unit
        for golfer, found in place_roster(opened, edition, club=club, cohort=cohort):
            if isinstance(found, NormsError):
                refused.append([golfer, found.message])
                continue
            placed.append(found)
            if out is not None:
                page = sheet_page(found, unit=length, speed_unit=choices.speed_unit)
                if refusal := write_sheet(out, names, found, page):
                    kept.append([golfer, refusal.message])
    if csv is not None:
        write_features(csv, placed)
    print(f"{counted(len(placed), 'placement')}, {counted(len(refused), 'golfer')} not placed")
    if refused:
        print_rows([["golfer", "because"], *refused])
    if kept:
        print_rows([["no sheet for", "because"], *kept])
        raise typer.Exit(1)


def placements(
    golfer: Annotated[str, typer.Argument(help="Golfer's code.")],
    store: StorePath,
    json_path: JsonPath = None,
) -> None:
    """List a golfer's kept placements, each with the edition and standard it was judged by."""
    from pipelines.consents import refuse_without_consent
    from pipelines.store import open_store
    from reports.tables import kept_placements_table, kept_verdicts_table

    with open_store(store, read_only=True) as opened:
        refuse_without_consent(opened, golfer, "coaching")
        placed = opened.placements.of(golfer)
        verdicts = opened.placements.verdicts(golfer)
    write_json(json_path, {"golfer": golfer, "placements": placed, "verdicts": verdicts})
    print_rows(kept_placements_table(placed))
    if verdicts:
        print()
        print_rows(kept_verdicts_table(verdicts))


def mark(
    golfer: Annotated[str, typer.Argument(help="Golfer's code.")],
    day: Annotated[
        datetime, typer.Argument(formats=DAY, callback=past_day, help="Day it happened.")
    ],
    kind: Annotated[
        str, typer.Argument(callback=short_enough, help="lesson, injury, new driver …")
    ],
    store: StorePath,
    note: Annotated[
        str | None, typer.Option(callback=short_enough, help="A few words more.")
    ] = None,
    health: Annotated[
        bool, typer.Option("--health", help="It concerns the golfer's health.")
    ] = False,
    who: ForTheLog = NOT_STATED,
) -> None:
    """Keep that something happened to a golfer, to be seen beside their sessions."""
    from pipelines.store import open_store
    from pipelines.track_progress import mark_event

    with open_store(store) as opened:
        number = mark_event(opened, golfer, day.date(), kind, note, health=health, who=who)
    print(f"mark {number}: {golfer}, {day:%Y-%m-%d}, {kind}")


def progress(
    golfer: Annotated[str, typer.Argument(help="Golfer's code.")],
    store: StorePath,
    edition: EditionName,
    club: Annotated[str, typer.Option(help="Club, as the edition names it.")],
    first: Annotated[
        datetime | None,
        typer.Option(
            "--from",
            formats=DAY,
            callback=past_day,
            help="Day of the earlier session; by default the one before.",
        ),
    ] = None,
    last: Annotated[
        datetime | None,
        typer.Option(
            "--to",
            formats=DAY,
            callback=past_day,
            help="Day of the later session; by default the last.",
        ),
    ] = None,
    with_health: Annotated[
        bool,
        typer.Option("--with-health", help="Notes on health in their own words; logged."),
    ] = False,
    who: ForTheLog = NOT_STATED,
    json_path: JsonPath = None,
    html: HtmlPath = None,
    unit: LengthUnit = None,
) -> None:
    """Judge what changed for a golfer between two sessions: real, or within noise."""
    from norms.placement.golfer_document import progress_document
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from pipelines.track_progress import track_progress
    from reports.progress_page import progress_page, progress_rows

    if with_health and who == NOT_STATED:
        raise typer.BadParameter("say --who reads the notes on health")
    with open_store(store, read_only=not with_health) as opened:
        found = track_progress(
            opened,
            golfer,
            edition,
            club=club,
            days=(first.date() if first else None, last.date() if last else None),
            health_reader=who if with_health else None,
        )
        unit = unit or shown_unit(opened)
    write_json(json_path, progress_document(found))
    if html is not None:
        write_page(html, progress_page(found, unit=unit))
    print_rows(progress_rows(found, unit=unit))
    print_sentences(found.cautions)


def patterns(
    store: StorePath,
    edition: EditionName,
    html: Annotated[
        Path, typer.Option("--html", help="Where to write the page."), Output(kind="PAGE")
    ],
    unit: LengthUnit = None,
) -> None:
    """Write the page of an edition's patterns: families of alike swings, or that there are none."""
    from pipelines.placing import edition_words
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.patterns_page import patterns_page

    with open_store(store, read_only=True) as opened:
        found = opened.edition(edition)
        told = edition_words(opened, found)
        write_page(html, patterns_page(found, unit=unit or shown_unit(opened)))
    print(html)
    print_sentences(told)


def peers(
    swing: Annotated[str, typer.Argument(help="Code of a stored swing.")],
    store: StorePath,
    json_path: JsonPath = None,
    unit: LengthUnit = None,
) -> None:
    """Hold a stored swing against peers of like handicap and of like ball speed, side by side."""
    from norms.cohort.speed_peers import peers_document
    from pipelines.exclude import standing_exclusions
    from pipelines.match_peers import match_peers
    from pipelines.settings import settings_of
    from pipelines.store import open_store
    from reports.cohort_tables import peers_sentences, peers_table

    with open_store(store, read_only=True) as opened:
        found = match_peers(opened, swing, exclusions=standing_exclusions(opened))
        choices = settings_of(opened)
    write_json(json_path, peers_document(found))
    print_sentences(peers_sentences(found, speed_unit=choices.speed_unit))
    print_rows(peers_table(found, unit=unit or choices.length_unit))
