"""Commands that hold laboratories and single captures to account."""

from datetime import date
from pathlib import Path
from typing import Annotated, Literal

import typer

from norms.errors import NormsError
from pipelines.commands.declared_paths import READ
from pipelines.commands.terminal import (
    Club,
    Day,
    GolferCode,
    HandSide,
    HtmlPath,
    JsonPath,
    LengthUnit,
    OptionalProfile,
    ProfilePath,
    StorePath,
    print_rows,
    print_sentences,
    refuse_unheard,
    seconds_of,
    write_json,
    write_page,
)
from pipelines.limits import past_day_fault

EventTime = Annotated[
    float | None, typer.Option(parser=seconds_of, help="Seconds from the first sample.")
]


def check(
    store: StorePath,
    lab: Annotated[str | None, typer.Option(help="One lab.")] = None,
    session: Annotated[
        str | None, typer.Option(help="One day, YYYY-MM-DD: its swings are listed.")
    ] = None,
    swing: Annotated[str | None, typer.Option(help="One swing by its code.")] = None,
    repeated: Annotated[
        str | None, typer.Option(help="Code of an object or person measured at every session.")
    ] = None,
    release: Annotated[
        tuple[str, str] | None, typer.Option(help="Release a held session: LAB DAY.")
    ] = None,
    who: Annotated[str, typer.Option(help="Who releases, as a role.")] = "",
    why: Annotated[str, typer.Option(help="Why.")] = "",
    json_path: JsonPath = None,
    html: HtmlPath = None,
    unit: LengthUnit = None,
) -> None:
    """Check labs, sessions and swings: gaps, events, rejections, control, noise budget."""
    from pipelines.check_document import check_document
    from pipelines.check_labs import CheckRequest, look_at_labs, release_session
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.check_page import check_lead, check_page
    from reports.check_tables import labs_table, sessions_table, swings_table

    if release is None:
        refuse_unheard({"--who": who, "--why": why}, "without --release")
    if swing is not None:
        refuse_unheard({"--lab": lab, "--session": session}, "with --swing: a code names one swing")
    request = CheckRequest(
        lab=lab,
        session=None if session is None else _day(session),
        swing=swing,
        repeated_object=repeated,
    )
    if release is not None:
        with open_store(store) as opened:
            release_session(opened, release[0], _day(release[1]), who=who, why=why)
    with open_store(store, read_only=True) as opened:
        found, holds = look_at_labs(opened, request)
        unit = unit or shown_unit(opened)
    if holds:
        with open_store(store) as opened:
            opened.hold_sessions(holds)
    write_json(json_path, check_document(found))
    if html is not None:
        write_page(html, check_page(found, unit=unit))
    print_sentences(check_lead(found))
    print()
    print_rows(labs_table(found))
    print()
    print_rows(sessions_table(found, every=lab is not None or session is not None))
    if found.swings:
        print()
        print_rows(swings_table(found))


def events(
    capture: Annotated[Path, typer.Argument(help="The capture file itself."), READ],
    store: StorePath,
    start: EventTime = None,
    top: EventTime = None,
    impact: EventTime = None,
    finish: EventTime = None,
    who: Annotated[str, typer.Option(help="Who corrects, as a role.")] = "",
    why: Annotated[str, typer.Option(help="Why.")] = "",
    profile: OptionalProfile = None,
    golfer: GolferCode = None,
    club: Club = None,
    day: Day = None,
    hand: HandSide = None,
    unit: LengthUnit = None,
) -> None:
    """Show a capture's events, or correct them with who and why; the swing follows."""
    from pipelines.correct_events import EventsRequest, correct_events
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.swing_tables import corrections_table, events_table, farthest_table

    if all(time is None for time in (start, top, impact, finish)):
        unsaid = "where no event is corrected: state --start, --top, --impact or --finish"
        refuse_unheard({"--who": who, "--why": why}, unsaid)
    stated = {"start": start, "top": top, "impact": impact, "finish": finish}
    request = EventsRequest(
        capture=capture,
        times_s={name: time for name, time in stated.items() if time is not None},  # type: ignore[misc]
        person=who,
        reason=why,
        profile=profile,
        golfer=golfer,
        club=club,
        day=day.date() if day else None,
        hand=hand,
    )
    with open_store(store, read_only=not request.times_s) as opened:
        report = correct_events(opened, request)
        unit = unit or shown_unit(opened)
    print_rows(events_table(report.swing))
    print()
    print_rows(farthest_table(report.swing, unit=unit))
    if report.corrections:
        print()
        print_rows(corrections_table(report.corrections))


def hips(
    capture: Annotated[Path, typer.Argument(help="A capture with pelvis markers."), READ],
    profile: ProfilePath,
    hand: Annotated[Literal["right", "left"], typer.Option(help="Side the golfer plays from.")],
    golfer: GolferCode = None,
    json_path: JsonPath = None,
    unit: LengthUnit = None,
) -> None:
    """Compare the ways to find the hip joint centres on one capture."""
    from pipelines.collect.profile import load_profile
    from pipelines.compare_hip_methods import compare_methods, comparison_document
    from reports.swing_tables import hip_methods_table, hips_lead, hips_not_possible

    comparison = compare_methods(capture, load_profile(profile), hand=hand, golfer=golfer)
    write_json(json_path, comparison_document(comparison))
    print_sentences(hips_lead(comparison))
    print()
    print_rows(hip_methods_table(comparison, unit=unit or "in"))
    print()
    print_sentences(hips_not_possible(comparison))


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise NormsError(f"{text[:40]}: not a day; write it as 2026-05-14", code="day") from None
    if fault := past_day_fault(day):
        raise NormsError(f"{day} {fault}", code="day")
    return day
