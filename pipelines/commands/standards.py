"""Commands that a director gives: what the academy asks for, and who meets it."""

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from pipelines.commands.declared_paths import READ, Output, guarded
from pipelines.commands.terminal import (
    DAY,
    EditionName,
    ForTheLog,
    HtmlPath,
    JsonPath,
    LengthUnit,
    StorePath,
    Who,
    Why,
    handicap_of,
    past_day,
    planned_day,
    print_rows,
    print_sentences,
    write_json,
    write_page,
)
from pipelines.limits import OLDEST
from pipelines.roles import NOT_STATED

if TYPE_CHECKING:
    from norms.standards.asked import RequirementAsked

app = typer.Typer(
    help="What the academy asks for: draft, review, approve and retire standards, and hold "
    "golfers against them.",
    no_args_is_help=True,
)

StandardFilePath = Annotated[Path, typer.Argument(help="The standard's file, TOML."), READ]
StandardName = Annotated[str, typer.Argument(help="Name of the standard.")]
On = Annotated[
    datetime | None,
    typer.Option("--on", formats=DAY, callback=past_day, help="Last day that counts."),
]


@app.command()
@guarded
def draft(
    file: Annotated[Path, typer.Argument(help="Where to write it; must not exist."), Output()],
    store: StorePath,
    edition: EditionName,
    cohort: Annotated[str, typer.Option(help="Key of the edition's cohort it rests on.")],
    name: Annotated[str, typer.Option(help="Small letters, digits, _ and -.")],
    title: Annotated[str, typer.Option(help="Words for the sheet.")],
    review: Annotated[
        datetime,
        typer.Option(formats=DAY, callback=planned_day, help="Day by which it is looked at again."),
    ],
    feature: Annotated[list[str] | None, typer.Option(help="A feature; may be repeated.")] = None,
    stretch: Annotated[
        list[str] | None,
        typer.Option(help="A stretch of curve: axis, from, to, with colons between."),
    ] = None,
    why: Annotated[str, typer.Option(help="Why it is asked; may be written later.")] = "",
    sex: Annotated[Literal["female", "male"] | None, typer.Option(help="For whom.")] = None,
    age_from: Annotated[
        int | None, typer.Option(min=0, max=OLDEST, help="For whom: from this age on.")
    ] = None,
    age_to: Annotated[
        int | None, typer.Option(min=0, max=OLDEST, help="For whom: up to this age.")
    ] = None,
    handicap_above: Annotated[
        float | None, typer.Option(parser=handicap_of, help="For whom: over this handicap.")
    ] = None,
    handicap_to: Annotated[
        float | None, typer.Option(parser=handicap_of, help="For whom: up to this handicap.")
    ] = None,
) -> None:
    """Draft a standard from an edition, as a file to be edited by hand."""
    from pipelines.manage_standard import DraftRequest, draft_standard, narrowed
    from pipelines.store import open_store
    from reports.standards_tables import findings_table, standard_table

    request = DraftRequest(
        file=file,
        name=name,
        title=title,
        edition=edition,
        evidence=cohort,
        requirements=_asked(feature or [], stretch or []),
        review_on=review.date(),
        rationale=why,
    )
    facts = {
        "sex": sex,
        "age_from": age_from,
        "age_to": age_to,
        "handicap_above": handicap_above,
        "handicap_to": handicap_to,
    }
    with open_store(store, read_only=True) as opened:
        request = narrowed(opened, request, {k: v for k, v in facts.items() if v is not None})
        standard, findings = draft_standard(opened, request)
    print_rows(standard_table(standard, unit="cm"))
    if findings:
        print()
        print_rows(findings_table(findings))
    print(f"\n{file} written; edit it, then: norms standard review {file} --store {store}")


@app.command()
@guarded
def review(file: StandardFilePath, store: StorePath, who: Who, why: Why) -> None:
    """Put a standard up for review; the same file may be edited and put up again."""
    from pipelines.manage_standard import review_standard
    from pipelines.store import open_store
    from reports.standards_tables import findings_table

    with open_store(store) as opened:
        read, decision = review_standard(opened, file, role=who, reason=why, on=_today())
    if read.findings:
        print_rows(findings_table(read.findings, [read.file.where(one) for one in read.findings]))
    print(f"standard {read.standard.name} is in review, hash {decision.standard_hash}")


@app.command()
@guarded
def approve(
    name: StandardName,
    store: StorePath,
    who: Who,
    why: Why,
    override: Annotated[
        str | None,
        typer.Option(help="Signed reason for approving below the sufficiency floor."),
    ] = None,
) -> None:
    """Approve a standard that is in review; from then on it never changes."""
    from pipelines.manage_standard import approve_standard
    from pipelines.store import open_store

    with open_store(store) as opened:
        decision = approve_standard(
            opened, name, role=who, reason=why, on=_today(), override=override
        )
    print(
        f"standard {name} is approved, hash {decision.standard_hash}, "
        f"edition hash {decision.edition_hash}"
    )


@app.command()
@guarded
def retire(name: StandardName, store: StorePath, who: Who, why: Why) -> None:
    """Take a standard out of use; it stays readable."""
    from pipelines.manage_standard import retire_standard
    from pipelines.store import open_store

    with open_store(store) as opened:
        retire_standard(opened, name, role=who, reason=why, on=_today())
    print(f"standard {name} is retired")


@app.command("list")
@guarded
def list_(store: StorePath) -> None:
    """Every standard of a store with where it stands, and what is due."""
    from norms.standards.drift import reminders
    from pipelines.store import open_store
    from reports.standards_tables import standards_table

    with open_store(store, read_only=True) as opened:
        kept = [opened.standards.standard(name) for name in opened.standards.names()]
    print_rows(standards_table([(one.standard, one.decisions) for one in kept]))
    in_use = [one.standard for one in kept if one.decisions[-1].state != "retired"]
    print_sentences([said for one in in_use for said in reminders(one, _today())])


@app.command()
@guarded
def compare(
    first: Annotated[str, typer.Argument(help="Name, or file, of a standard.")],
    second: Annotated[str, typer.Argument(help="Name, or file, of another.")],
    store: StorePath,
    on: On = None,
    json_path: JsonPath = None,
    unit: LengthUnit = None,
) -> None:
    """Show what changes from one standard to another, and whose verdict flips."""
    from pipelines.check_golfers import compare_standards
    from pipelines.settings import shown_unit
    from pipelines.standard_document import comparison_document
    from pipelines.store import open_store
    from reports.standards_tables import changes_table, flips_sentence, flips_table

    with open_store(store, read_only=True) as opened:
        found = compare_standards(opened, first, second, on=on.date() if on else None)
        unit = unit or shown_unit(opened)
    write_json(json_path, comparison_document(found))
    if found.changes or found.requirements:
        print_rows(changes_table(found, unit=unit))
    else:
        print("Both ask the same.")
    if found.flips:
        print()
        print_rows(flips_table(found))
    print(f"\n{flips_sentence(found)}")


@app.command()
@guarded
def check(
    name: StandardName,
    store: StorePath,
    golfer: Annotated[
        list[str] | None, typer.Option(help="Golfer's code; may be repeated; all by default.")
    ] = None,
    on: On = None,
    keep: Annotated[
        bool, typer.Option("--keep", help="Keep it, so that the next one shows progress.")
    ] = False,
    json_path: JsonPath = None,
    html: HtmlPath = None,
    unit: LengthUnit = None,
    who: ForTheLog = NOT_STATED,
) -> None:
    """Hold golfers against a standard: met, not yet, or cannot tell."""
    from pipelines.check_golfers import ReviewRequest, check_golfers
    from pipelines.manage_standard import standing_of
    from pipelines.settings import shown_unit
    from pipelines.standard_document import review_document
    from pipelines.store import open_store
    from reports.standards_page import lead_sentence, standards_page
    from reports.standards_tables import golfers_table, review_table

    request = ReviewRequest(
        standard=name, golfers=golfer or None, on=on.date() if on else None, keep=keep, who=who
    )
    with open_store(store, read_only=not keep) as opened:
        found = check_golfers(opened, request, today=_today())
        _, decision = standing_of(opened, name)
        unit = unit or shown_unit(opened)
    write_json(json_path, review_document(found))
    if html is not None:
        write_page(html, standards_page(found, decision, unit=unit))
    print_rows(golfers_table(found, unit=unit) if golfer else review_table(found))
    print_sentences([lead_sentence(found), *found.reminders])


@app.command()
@guarded
def sheet(
    name: StandardName,
    store: StorePath,
    html: HtmlPath = None,
    pdf: Annotated[
        Path | None, typer.Option("--pdf", help="Also write a PDF here."), Output(kind="PDF")
    ] = None,
    unit: LengthUnit = None,
) -> None:
    """Make the sheet to pin on the wall: what should be so, with cautions and how it was set."""
    from pipelines.files import write_bytes_whole
    from pipelines.manage_standard import edition_of, standing_of
    from pipelines.output_kinds import PDF
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.standards_sheet import standard_pdf, standard_sheet
    from reports.standards_tables import standard_table

    with open_store(store, read_only=True) as opened:
        standard, decision = standing_of(opened, name)
        evidence = edition_of(opened, standard).cell(standard.evidence)
        unit = unit or shown_unit(opened)
    if html is not None:
        write_page(html, standard_sheet(standard, evidence, decision, unit=unit))
    if pdf is not None:
        write_bytes_whole(pdf, standard_pdf(standard, evidence, decision, unit=unit), PDF)
    print_rows(standard_table(standard, unit=unit))
    print_sentences(standard.cautions)


def _asked(features: list[str], stretches: list[str]) -> "list[RequirementAsked]":
    from norms.standards.asked import RangeAsked, RequirementAsked
    from norms.standards.quantities import feature_quantity, stretch_from_words

    quantities = [feature_quantity(one) for one in features]
    quantities += [stretch_from_words(one) for one in stretches]
    return [RequirementAsked(quantity=one, range=RangeAsked()) for one in quantities]


def _today() -> date:
    return date.today()
