"""Commands that list what was entered, put it right, and take it back."""

from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.declared_paths import READ
from pipelines.commands.terminal import (
    GolferCode,
    JsonPath,
    OptionalProfile,
    StorePath,
    Who,
    Why,
    counted,
    print_rows,
    print_sentences,
    write_json,
)
from pipelines.limits import MOST_ACTS

EntryWords = Annotated[
    list[str],
    typer.Argument(help="The entry as norms entries names it, e.g. handicap G13 2026-04-01."),
]


def entries(
    store: StorePath,
    golfer: GolferCode = None,
    kind: Annotated[
        str | None, typer.Option(help="One kind: golfer, handicap, capture, mark …")
    ] = None,
    json_path: JsonPath = None,
) -> None:
    """List what was entered, each entry by the words that amend or withdraw it."""
    from pipelines.entries import list_entries
    from pipelines.store import open_store
    from reports.entry_tables import entries_table, entry_documents

    with open_store(store, read_only=True) as opened:
        found = [(one.name, one.said()) for one in list_entries(opened, golfer=golfer, kind=kind)]
    write_json(json_path, {"entries": entry_documents(found)})
    print_rows(entries_table(found))


def amend(
    entry: Annotated[
        list[str],
        typer.Argument(help="The entry, then FIELD=VALUE: handicap G13 2026-04-01 index=12.3."),
    ],
    store: StorePath,
    who: Who,
    why: Why,
    capture: Annotated[
        Path | None,
        typer.Option(help="The capture's file, where hand= is put right and it is read again."),
        READ,
    ] = None,
    profile: OptionalProfile = None,
) -> None:
    """Put one entry right: a golfer's facts, a handicap, a capture's golfer, club, day or hand …"""
    from pipelines import amend as job
    from pipelines.store import open_store
    from reports.entry_tables import amended_sentences

    words = [one for one in entry if "=" not in one]
    stated = dict(one.split("=", 1) for one in entry if "=" in one)
    with open_store(store) as opened:
        done = job.amend(opened, words, stated, who=who, why=why, capture=capture, profile=profile)
    print_sentences(amended_sentences(done.name, done.changes, done.editions, done.placements))


def withdraw(entry: EntryWords, store: StorePath, who: Who, why: Why) -> None:
    """Take one entry out that should not have been made; undo brings it back."""
    from pipelines import amend as job
    from pipelines.store import open_store
    from reports.entry_tables import withdrawn_sentences

    with open_store(store) as opened:
        done = job.withdraw(opened, entry, who=who, why=why)
    print_sentences(withdrawn_sentences(done.name, done.editions, done.placements))


def undo(
    store: StorePath,
    who: Who,
    why: Why,
    act: Annotated[
        int | None,
        typer.Option(
            help="Number of an act in the log; by default the newest.", min=1, max=MOST_ACTS
        ),
    ] = None,
) -> None:
    """Undo the newest act, or a certain one: what it changed is put back as it was."""
    from pipelines.store import open_store
    from pipelines.take_back import undo_last
    from reports.entry_tables import editions_sentences

    with open_store(store) as opened:
        done = undo_last(opened, who=who, why=why, act=act)
    rows = counted(done.rows, "row")
    print(f"undone: act {done.number}, {done.action} ({done.who}): {rows} as before")
    print_sentences(editions_sentences(done.editions))
