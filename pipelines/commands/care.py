"""Commands of the duty of care: consent, erasure, the log, backups."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands.declared_paths import READ, Output
from pipelines.commands.terminal import (
    ForTheLog,
    JsonPath,
    StorePath,
    Who,
    Why,
    counted,
    print_rows,
    print_sentences,
    refuse_unheard,
    write_json,
)
from pipelines.roles import NOT_STATED


def consents(
    store: StorePath,
    table: Annotated[
        Path | None,
        typer.Argument(help="CSV of consents by golfer and purpose; without it they are listed."),
        READ,
    ] = None,
    who: Annotated[
        str | None, typer.Option("--who", help="Who reads it in, as a role and not a name.")
    ] = None,
) -> None:
    """Read who agreed to what, or withdrew it; or list it, with whom to ask anew."""
    from pipelines.consents import import_consents, standing_consents, without_birth_year
    from pipelines.health_notes import health_without_consent
    from pipelines.store import open_store
    from reports.consent_tables import consents_table, renewal_sentences, standing_sentences

    if table is None:
        refuse_unheard({"--who": who}, "without a table: a list is read by anybody")
    if table is not None and who is None:
        raise typer.BadParameter("say --who reads the table in")
    with open_store(store, read_only=table is None) as opened:
        if table is not None and who is not None:
            count = import_consents(opened, table, who=who)
            print(f"{counted(count, 'consent')} read into {store}")
        standings = standing_consents(opened)
        unknown, unasked = without_birth_year(opened), health_without_consent(opened)
    if table is None:
        print_rows(consents_table(standings))
    print_sentences(renewal_sentences(standings))
    print_sentences(standing_sentences(standings, unknown, unasked))


def erase(
    golfer: Annotated[str, typer.Argument(help="Golfer's code.")],
    store: StorePath,
    who: Who,
    why: Why,
    look_in: Annotated[
        list[Path] | None,
        typer.Option(help="Folder in which files that still name the golfer are looked for."),
        READ,
    ] = None,
) -> None:
    """Erase a golfer from a store, its file written anew; editions are marked."""
    from pipelines.erase_golfer import erase_golfer

    done = erase_golfer(
        store, golfer, why=why, who=who, look_in=tuple(look_in or ()), hand_out=_hand_out
    )
    print(f"erased: {counted(sum(done.receipt.removed.values()), 'row')}, the file written anew")
    print_sentences(
        [
            f"edition {mark.edition}: {mark.policy}, now {mark.hash_after[:12]}"
            for mark in done.marks
        ]
    )
    print_sentences(
        [
            f"edition {name}: bands alone are computed anew; what stood beside them is gone, "
            f"because {why_not}: build a new edition"
            for name, why_not in done.annexes_lost.items()
        ]
    )
    print_sentences([f"standard {name} rests on a marked edition" for name in done.standards])
    print_sentences([f"removed, a copy beside the store: {name}" for name in done.removed])
    print_sentences(
        [
            f"given out on {entry.at:%Y-%m-%d} and may hold the golfer: {entry.action} "
            f"{_told(entry.details, {})}"
            for entry in done.given_out
        ]
    )
    print_sentences([f"still names the golfer, to be removed: {p}" for p in done.named_elsewhere])


def _hand_out(receipt: str, key: str) -> None:
    """Before anything is deleted, so that an erasure that is cut short has shown its key."""
    print(f"receipt {receipt} of the erasure that begins now")
    print(f"its key, shown this once, for the person who is erased: {key}", flush=True)


def receipts(
    store: StorePath,
    golfer: Annotated[
        str | None, typer.Option(help="Code of who was erased, to find their receipt.")
    ] = None,
    key: Annotated[
        str | None, typer.Option(help="The key that was shown when they were erased.")
    ] = None,
) -> None:
    """List receipts of erasure; or show which is a golfer's, by the key they were given."""
    from pipelines.erase_golfer import receipt_of
    from pipelines.store import open_store

    if (golfer is None) != (key is None):
        raise typer.BadParameter("--golfer and --key go together")
    with open_store(store, read_only=True) as opened:
        own = None if golfer is None or key is None else receipt_of(opened, golfer, key)
        found = opened.erasures.receipts() if own is None else [own]
    rows = [
        [
            one.receipt,
            f"{one.erased_at:%Y-%m-%d %H:%M}",
            one.who,
            one.why,
            f"{sum(one.removed.values()):,}",
        ]
        for one in found
    ]
    print_rows([["receipt", "erased (UTC)", "by", "because", "rows removed"], *rows])


def log(
    store: StorePath,
    expect: Annotated[
        str | None,
        typer.Option(help="A head or hash noted earlier, which the log must still hold."),
    ] = None,
    accept: Annotated[
        bool,
        typer.Option(
            "--accept", help="Bind tables that were changed behind the log as they are; say why."
        ),
    ] = False,
    who: ForTheLog = NOT_STATED,
    why: Annotated[str, typer.Option("--why", help="With --accept: the reason.")] = "",
    json_path: JsonPath = None,
) -> None:
    """Read the log of what was done to a store, and verify that nothing was changed in it."""
    from dataclasses import asdict

    from pipelines.audit import accept_tables, read_log
    from pipelines.store import open_store

    if why and not accept:
        raise typer.BadParameter("--why goes with --accept")
    with open_store(store, read_only=not accept) as opened:
        if accept:
            accept_tables(opened, who=who, why=why)
        reading = read_log(opened, expect)
    rows = [
        [
            f"{entry.at:%Y-%m-%d %H:%M}",
            entry.action,
            entry.who,
            _told(entry.details, reading.golfers),
            entry.hash[:12],
        ]
        for entry in reading.entries
    ]
    write_json(
        json_path,
        {
            "entries": [asdict(entry) | {"at": entry.at.isoformat()} for entry in reading.entries],
            "faults": list(reading.faults),
        },
    )
    print_rows([["when (UTC)", "what", "who", "details", "hash"], *rows])
    print_sentences(reading.faults or ["The log holds together."])
    print(f"newest hash: {reading.newest_hash}")
    print(f"head, to be noted outside and checked with --expect: {reading.head}")
    if reading.faults:
        raise typer.Exit(1)


def _told(details: str, golfers: Mapping[str, str]) -> str:
    """Details as the log has them, pseudonyms of golfers who are still there as their codes."""
    said = json.loads(details)
    said.pop("tables", None)  # digests, for the machine
    text = json.dumps(said, ensure_ascii=False) if said else ""
    for pseudonym, code in golfers.items():
        text = text.replace(pseudonym, code)
    return text.strip("{}").replace('"', "")


def backup(
    store: Annotated[Path, typer.Argument(help="The store."), READ],
    target: Annotated[Path, typer.Argument(help="New file to copy it to."), Output()],
    who: ForTheLog = NOT_STATED,
) -> None:
    """Copy a store, verify the copy, and write the manifest that stands beside it."""
    from pipelines.backup import backup_store

    report = backup_store(store, target, who=who)
    rows = sum(report.rows.values())
    print(f"{target}: {counted(rows, 'row')}, {counted(report.editions, 'edition')}, verified")
    print(f"{report.manifest.name}: its manifest, to be moved and renamed together with it")
    entries = "entry" if report.log_entries == 1 else "entries"
    print(f"log: {report.log_entries:,} {entries}, newest hash {report.newest_hash}")


def restore(
    backup: Annotated[Path, typer.Argument(help="A backup, its manifest beside it."), READ],
    store: Annotated[Path, typer.Argument(help="Where the store is to be."), Output(restored=True)],
    who: Who,
    replace: Annotated[
        bool, typer.Option("--replace", help="Replace a store that is there.")
    ] = False,
    unchecked: Annotated[
        bool, typer.Option("--unchecked", help="Restore a backup whose manifest is lost.")
    ] = False,
) -> None:
    """Put a backup in the place of a store; who was erased since is erased again."""
    from pipelines.restore import restore_store

    report = restore_store(backup, store, who=who, replace=replace, unchecked=unchecked)
    print(
        f"{store}: {counted(report.golfers, 'golfer')}, {counted(report.swings, 'swing')}, "
        f"{counted(report.editions, 'edition')}; {report.erased_again} erased again, "
        f"{counted(report.consents_kept, 'newer consent')} kept"
    )
    if report.checked:
        print("every byte and every table is what was backed up")
    else:
        print(
            "without a manifest: log and editions hold together, but whether bytes and tables are "
            "those that were backed up could not be checked"
        )
    if report.acts_lost:
        print(f"not in the backup: {counted(report.acts_lost, 'act')} in the replaced store's log")
    if report.replaced is not None:
        print(f"the replaced store is kept as {report.replaced}: {report.kept_because}")
