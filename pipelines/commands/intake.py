"""Commands that bring people, choices and captures into a store."""

import sys
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from norms.errors import NormsError
from pipelines.commands.declared_paths import READ, Output
from pipelines.commands.terminal import (
    Club,
    Day,
    ForTheLog,
    GolferCode,
    HandSide,
    HtmlPath,
    JsonPath,
    ProfilePath,
    StorePath,
    counted,
    print_rows,
    print_sentences,
    short_enough,
    shown_progress,
    write_json,
    write_page,
)
from pipelines.limits import MOST_WORKERS
from pipelines.roles import NOT_STATED


def roster(
    table: Annotated[Path, typer.Argument(help="CSV of golfers."), READ],
    store: StorePath,
    handicaps: Annotated[Path | None, typer.Option(help="CSV of dated handicaps."), READ] = None,
    again: Annotated[
        list[str] | None,
        typer.Option(help="Code of an erased golfer to let in again, with --who and --why."),
    ] = None,
    who: ForTheLog = NOT_STATED,
    why: Annotated[
        str, typer.Option(callback=short_enough, help="Why an erased golfer comes back.")
    ] = "",
) -> None:
    """Read golfers, and their dated handicaps, into a store."""
    from pipelines.read_roster import read_roster
    from pipelines.store import open_store
    from reports.intake_sentences import other_hand_sentences

    with open_store(store, create=True) as opened:
        found = read_roster(opened, table, handicaps, again=again or (), who=who, why=why)
    print(f"{counted(found.golfers, 'golfer')} read into {store}")
    swings = [(one.golfer, one.swing, one.source, one.hand) for one in found.other_hand]
    print_sentences(other_hand_sentences(swings))


def speeds(
    table: Annotated[Path, typer.Argument(help="CSV of ball speeds."), READ],
    store: StorePath,
    who: ForTheLog = NOT_STATED,
) -> None:
    """Read ball speeds by swing code into a store."""
    from pipelines.import_tables import import_ball_speeds
    from pipelines.store import open_store
    from reports.intake_sentences import speeds_sentence

    with open_store(store, create=True) as opened:
        found = import_ball_speeds(opened, table, who=who)
    print(f"{speeds_sentence(found.count, found.not_stored)} ({store})")


def settings(
    table: Annotated[Path, typer.Argument(help="TOML of the academy's choices."), READ],
    store: StorePath,
    who: ForTheLog = NOT_STATED,
    why: Annotated[
        str,
        typer.Option(
            callback=short_enough, help="Why, where one_person changes: it stands in the log."
        ),
    ] = "",
) -> None:
    """Keep the academy's choices in a store: levels, clubs, smallest cell, units shown."""
    from pipelines.settings import change_settings, read_settings
    from pipelines.store import open_store

    choices = read_settings(table)
    with open_store(store, create=True) as opened:
        change_settings(opened, choices, who=who, why=why)
    print(f"{counted(len(choices.levels), 'level')}, smallest cell {choices.smallest_cell} golfers")


def profile(
    capture: Annotated[Path, typer.Argument(help="A capture of the lab."), READ],
    out: Annotated[
        Path | None, typer.Option(help="Write the draft here."), Output(kind="DRAFT")
    ] = None,
    lab: Annotated[str | None, typer.Option(help="Name of the lab.")] = None,
) -> None:
    """Draft a lab profile from a capture, every line with its evidence; unsure ones stay open."""
    from pipelines.draft_profile import draft_profile
    from pipelines.files import write_whole
    from pipelines.output_kinds import DRAFT, sealed

    draft = draft_profile(capture, lab=lab)
    if out is not None:
        write_whole(out, sealed(draft.toml()), DRAFT)
    open_lines = f"{counted(len(draft.open_questions), 'line')} left for a person to decide"
    print(draft.toml() if out is None else f"{out}: {open_lines}\n", end="")


def collect(
    paths: Annotated[list[Path], typer.Argument(help="Capture files, or folders of them."), READ],
    store: StorePath,
    profile: ProfilePath,
    golfer: GolferCode = None,
    club: Club = None,
    day: Day = None,
    hand: HandSide = None,
    new_club: Annotated[
        list[str] | None,
        typer.Option(help="A club to let in that no swing is of yet; may be repeated."),
    ] = None,
    workers: Annotated[
        int, typer.Option(help="Processes that read captures.", min=1, max=MOST_WORKERS)
    ] = 2,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="Captures exported anew take the place of the stored ones."),
    ] = False,
    who: ForTheLog = NOT_STATED,
    why: Annotated[
        str, typer.Option(callback=short_enough, help="With --replace: the reason, for the log.")
    ] = "",
    json_path: JsonPath = None,
    html: HtmlPath = None,
) -> None:
    """Read captures into a store: C3D, BVH, or tables (CSV, Parquet).

    Golfer, club, day and side, where stated, hold for every file, before its name and the roster.
    """
    from pipelines.collect.profile import load_profile
    from pipelines.collect_captures import collect_captures, not_looked_at
    from pipelines.lab_profiles import keep_profile
    from pipelines.store import open_store
    from reports.collect_page import collect_page, others_words
    from reports.tables import collect_table, others_table, reasons_table

    if replace and (who == NOT_STATED or not why.strip()):
        raise typer.BadParameter("--replace needs --who, a role, and --why")
    if why and not replace:
        raise typer.BadParameter("--why goes with --replace")
    lab_profile = load_profile(profile)
    with shown_progress() as progress, open_store(store, create=True) as opened:
        keep_profile(opened, lab_profile, who=who)
        report = progress.step("reading captures")
        known = opened.door.clubs()
        try:
            outcomes = collect_captures(
                paths,
                opened,
                lab_profile,
                golfer=golfer,
                club=club,
                recorded_on=day.date() if day else None,
                hand=hand,
                new_clubs=new_club or (),
                workers=workers,
                progress=report,
                replace_stored=replace,
                who=who,
                why=why,
            )
        except KeyboardInterrupt:
            print("norms: interrupted; what was stored stays, run it again", file=sys.stderr)
            raise typer.Exit(130) from None
        made = [club for club in opened.door.clubs() if club not in known]
    others = [str(path) for path in not_looked_at(paths)]
    if not outcomes:
        found = f"; {others_words(others)}" if others else ""
        raise NormsError(f"no capture files found in what was named{found}", code="nothing_found")
    document = {"files": [asdict(outcome) for outcome in outcomes], "not_looked_at": others}
    write_json(json_path, document)
    write_page(html, collect_page(outcomes, others))
    print_rows(collect_table(outcomes))
    if made:
        print(f"new here: {counted(len(made), 'club')}: {', '.join(made)}")
    reasons = reasons_table(outcomes)
    if len(reasons) > 1:
        print()
        print_rows(reasons)
    if others:
        print(f"\n{others_words(others)}")
        print_rows(others_table(others))
    if all(outcome.status == "rejected" for outcome in outcomes):
        raise typer.Exit(1)
