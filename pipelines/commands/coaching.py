"""Commands that a coach gives beside a student."""

from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.terminal import (
    Club,
    Day,
    EditionName,
    GolferCode,
    HandSide,
    HtmlPath,
    JsonPath,
    LengthUnit,
    OptionalProfile,
    StorePath,
    handicap_of,
    print_rows,
    print_sentences,
    write_json,
    write_page,
)


def place(
    capture: Annotated[Path, typer.Argument(help="The capture to place.")],
    store: StorePath,
    edition: EditionName,
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
        day=day.date() if day else None,
        hand=hand,
        handicap=handicap,
        level=level,
    )
    with open_store(store) as opened:
        placement, document = place_capture(opened, request)
        unit = unit or shown_unit(opened)
    print_rows(placement_table(placement, unit=unit))
    write_json(json_path, document)
    if html is not None:
        from reports.placement_page import placement_page

        write_page(html, placement_page(placement, unit=unit))


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

    with open_store(store) as opened:
        found = match_peers(opened, swing, exclusions=standing_exclusions(opened))
        choices = settings_of(opened)
    print_sentences(peers_sentences(found, speed_unit=choices.speed_unit))
    print_rows(peers_table(found, unit=unit or choices.length_unit))
    write_json(json_path, peers_document(found))
