"""Commands that build norms and carry them between academies."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from pipelines.commands.declared_paths import READ, Output
from pipelines.commands.terminal import (
    EditionName,
    ForTheLog,
    HtmlPath,
    JsonPath,
    LengthUnit,
    StorePath,
    Who,
    Why,
    handicap_of,
    print_rows,
    print_sentences,
    refuse_unheard,
    value_of,
    write_json,
    write_page,
    years_of,
)
from pipelines.limits import LARGEST_SEED
from pipelines.roles import NOT_STATED

if TYPE_CHECKING:
    from norms.records import Edition


def build(
    store: StorePath,
    edition: EditionName,
    cohorts: Annotated[
        Path | None,
        typer.Option(help="TOML of named cohorts to build besides club and level."),
        READ,
    ] = None,
    registered: Annotated[
        bool,
        typer.Option("--registered", help="Also register averages within phases; nothing is kept."),
    ] = False,
    who: ForTheLog = NOT_STATED,
    html: HtmlPath = None,
    unit: LengthUnit = None,
) -> None:
    """Build norms from a store's swings and freeze them as a named edition."""
    from pipelines.build_edition import build_edition
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.tables import edition_table, membership_table

    if html is None and not registered:
        refuse_unheard({"--unit": unit}, "without --html or --registered: no length is shown")
    with open_store(store) as opened:
        built = build_edition(opened, edition, cohorts=cohorts, who=who)
        unit = unit or shown_unit(opened)
    if html is not None:
        from reports.edition_page import edition_page

        write_page(html, edition_page(built, unit=unit))
    print_rows(edition_table(built))
    print()
    print_rows(membership_table(built))
    print(f"edition {built.name}, content hash {built.content_hash}")
    if registered:
        _print_registered(built, unit)


def _print_registered(edition: "Edition", unit: str) -> None:
    from pipelines.register_cohorts import register_cohorts
    from reports.edition_page import sorted_cells
    from reports.registration_tables import registration_lead, registration_table

    found = register_cohorts(replace(edition, cells=tuple(sorted_cells(edition))))
    print()
    print_sentences(registration_lead())
    print_rows(registration_table(found, unit=unit))


def exclude(
    store: StorePath,
    why: Why,
    who: Who,
    golfer: Annotated[str | None, typer.Option(help="Every swing of this golfer.")] = None,
    swing: Annotated[str | None, typer.Option(help="This swing.")] = None,
    readmit: Annotated[bool, typer.Option("--readmit", help="Take an exclusion back.")] = False,
) -> None:
    """Leave a golfer or a swing out of norms from the next build on; nothing is deleted."""
    from pipelines import exclude as job
    from pipelines.store import open_store

    decide = job.readmit if readmit else job.exclude
    with open_store(store) as opened:
        decide(opened, golfer=golfer, swing=swing, reason=why, decided_by=who)
    what = f"golfer {golfer}" if golfer else f"swing {swing}"
    print(f"{what} {'enters norms again' if readmit else 'is left out'} from the next build on")


def exclusions(store: StorePath) -> None:
    """List who and what was left out of norms by a person, by whom, when and why."""
    from pipelines.store import open_store
    from reports.tables import exclusions_table

    with open_store(store, read_only=True) as opened:
        print_rows(exclusions_table(opened.exclusions()))


def plan(
    store: StorePath,
    edition: EditionName,
    cohort: Annotated[str | None, typer.Option(help="Key of a group, e.g. driver/to_12.")] = None,
    feature: Annotated[list[str] | None, typer.Option(help="Feature to foresee.")] = None,
    json_path: JsonPath = None,
    unit: LengthUnit = None,
) -> None:
    """What more golfers would buy an edition, and whom to recruit next."""
    from norms.cohort.plan import plan_document
    from pipelines.placing import edition_words
    from pipelines.plan_cohort import PLANNED_FEATURES, plan_cohort
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.cohort_tables import plan_table, widths_table

    with open_store(store, read_only=True) as opened:
        found = plan_cohort(
            opened, edition, cohort=cohort, features=tuple(feature or PLANNED_FEATURES)
        )
        told = edition_words(opened, opened.edition(edition))
        unit = unit or shown_unit(opened)
    write_json(json_path, plan_document(found))
    print_rows(plan_table(found))
    print()
    print_rows(widths_table(found, unit=unit))
    print_sentences(told)


def compare(
    first: Annotated[str, typer.Argument(help="Name of an edition.")],
    second: Annotated[str, typer.Argument(help="Name of another.")],
    store: StorePath,
    seed: Annotated[
        int, typer.Option(help="Seed of the relabelling.", min=0, max=LARGEST_SEED)
    ] = 0,
    json_path: JsonPath = None,
    unit: LengthUnit = None,
) -> None:
    """What moved between two editions, and whether more than sampling error."""
    from norms.cohort.compare import comparison_document
    from pipelines.compare_editions import compare_editions
    from pipelines.placing import edition_words
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.cohort_tables import comparison_sentences, comparison_table

    with open_store(store, read_only=True) as opened:
        comparison = compare_editions(opened, first, second, seed=seed)
        both = (opened.edition(name) for name in (first, second))
        told = [sentence for one in both for sentence in edition_words(opened, one)]
        unit = unit or shown_unit(opened)
    write_json(json_path, comparison_document(comparison))
    print_rows(comparison_table(comparison, unit=unit))
    print_sentences(comparison_sentences(comparison))
    print_sentences(told)


def centile(
    feature: Annotated[str, typer.Argument(help="Name of a feature, e.g. sway_travel.")],
    value: Annotated[
        float, typer.Option(parser=value_of, help="In the unit shown; lengths as with --unit.")
    ],
    store: StorePath,
    edition: EditionName,
    club: Annotated[str, typer.Option(help="Club, as the edition names it.")] = "driver",
    handicap: Annotated[
        float | None,
        typer.Option(parser=handicap_of, help="Also place it at this handicap, e.g. 12 or +1.8."),
    ] = None,
    sex: Annotated[
        Literal["female", "male"] | None, typer.Option(help="Where the centiles depend on it.")
    ] = None,
    age: Annotated[
        float | None,
        typer.Option(parser=years_of, help="In years, where the centiles depend on it."),
    ] = None,
    json_path: JsonPath = None,
    unit: LengthUnit = None,
) -> None:
    """Read a value off an edition's centiles: the handicap whose median it is, and its place."""
    from norms.cohort.value_reading import read_value, reading_document
    from norms.swing.catalogue import BY_NAME
    from norms.units import CM_PER_UNIT
    from pipelines.placing import edition_words
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.value_sentences import value_sentences

    with open_store(store, read_only=True) as opened:
        found = opened.edition(edition)
        told = edition_words(opened, found)
        unit = unit or shown_unit(opened)
    in_length = feature in BY_NAME and BY_NAME[feature].unit in ("cm", "cm_s")
    reading = read_value(
        found,
        club,
        feature,
        value * CM_PER_UNIT[unit] if in_length else value,
        handicap=handicap,
        female=None if sex is None else sex == "female",
        age=age,
    )
    dropped: dict[str, object] = {
        "--sex": "female" not in reading.given and sex,
        "--age": "age" not in reading.given and age is not None,
    }
    refuse_unheard(dropped, f"to the centiles of {feature}: they do not depend on it")
    write_json(json_path, reading_document(reading))
    print_sentences(value_sentences(reading, unit=unit))
    print_sentences(told)


def share(
    edition: Annotated[str, typer.Argument(help="Name of the edition.")],
    folder: Annotated[Path, typer.Argument(help="Where to write it."), Output(folder=True)],
    store: StorePath,
    table_format: Annotated[
        Literal["parquet", "csv"], typer.Option("--format", help="Format of the tables.")
    ] = "parquet",
    who: ForTheLog = NOT_STATED,
) -> None:
    """Write an edition for another academy: numbers and counts, no golfer's row."""
    from pipelines.exclude import counted_though_excluded
    from pipelines.export_edition import export_edition
    from pipelines.store import open_store

    with open_store(store) as opened:
        written = export_edition(opened, edition, folder, table_format=table_format, who=who)
        told = counted_though_excluded(opened, opened.edition(edition))
    print_sentences([*(str(path) for path in written), *told])


def import_(
    folder: Annotated[Path, typer.Argument(help="An exported edition."), READ],
    store: StorePath,
    name: Annotated[str | None, typer.Option(help="Name to keep it under.")] = None,
    who: ForTheLog = NOT_STATED,
) -> None:
    """Read another academy's exported edition into a store."""
    from pipelines.import_edition import import_edition
    from pipelines.store import open_store

    with open_store(store, create=True) as opened:
        taken = import_edition(opened, folder, name, who=who)
    print(f"edition {taken.name}, content hash {taken.content_hash}")


def adopt(
    folder: Annotated[Path, typer.Argument(help="An exported edition."), READ],
    store: StorePath,
    cohort: Annotated[list[str], typer.Option(help="Key of a group to verify.")],
    name: Annotated[str | None, typer.Option(help="Name to keep it under.")] = None,
    who: ForTheLog = NOT_STATED,
    json_path: JsonPath = None,
    unit: LengthUnit = None,
) -> None:
    """Verify another academy's edition on local golfers, group by group: accept or not."""
    from norms.cohort.adopt import adoption_document
    from pipelines.adopt_edition import adopt_edition
    from pipelines.exclude import standing_exclusions
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.cohort_tables import adoption_sentences, adoption_table

    with open_store(store) as opened:
        edition, verdicts = adopt_edition(
            opened, folder, cohort, exclusions=standing_exclusions(opened), name=name, who=who
        )
        unit = unit or shown_unit(opened)
    document = {
        "edition": edition.name,
        "groups": [adoption_document(verdict) for verdict in verdicts],
    }
    write_json(json_path, document)
    for verdict in verdicts:
        print_sentences(adoption_sentences(verdict))
        print_rows(adoption_table(verdict, unit=unit))
        print()
