"""Commands of an analyst: what goes with ball speed, within a golfer and between golfers."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from pipelines.commands.declared_paths import READ, Output
from pipelines.commands.terminal import (
    ForTheLog,
    HtmlPath,
    JsonPath,
    LengthUnit,
    StorePath,
    counted,
    print_rows,
    print_sentences,
    refuse_unheard,
    write_json,
    write_page,
)
from pipelines.limits import MOST_LOOKS
from pipelines.roles import NOT_STATED

StudyPath = Annotated[Path, typer.Argument(help="The study's file, TOML."), READ]
SpeedUnit = Annotated[
    Literal["mph", "mps"] | None, typer.Option("--speed-unit", help="Unit of speed shown.")
]


def study(
    file: StudyPath,
    store: StorePath,
    json_path: JsonPath = None,
    html: HtmlPath = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", help="Folder for tidy tables, Parquet and CSV."),
        Output(kind="TABLE", folder=True, tables=("effects", "models", "along")),
    ] = None,
    unit: LengthUnit = None,
    speed_unit: SpeedUnit = None,
    research: Annotated[
        bool,
        typer.Option(
            "--research", help="A page to leave the academy: neither codes nor names of labs."
        ),
    ] = False,
    who: ForTheLog = NOT_STATED,
) -> None:
    """Answer a study of ball speed, and log the look."""
    from norms.study.export import own_names
    from pipelines.run_study import run_study
    from pipelines.settings import settings_of
    from pipelines.store import open_store
    from pipelines.study_results import study_document, write_results
    from reports.study_page import study_page
    from reports.study_rows import study_table
    from reports.study_sentences import look_sentences, multiplicity_sentence

    if html is None:
        refuse_unheard({"--research": research}, "without --html: it is about the page")
    with open_store(store) as opened:
        answer, rows = run_study(opened, file, who=who)
        settings = settings_of(opened)
    length, speed = unit or settings.length_unit, speed_unit or settings.speed_unit
    write_json(json_path, study_document(answer))
    if html:
        names = None if research else own_names(rows, answer.plan)
        write_page(html, study_page(answer, names, unit=length, speed_unit=speed))
    if out:
        write_results(answer, out)
    print_rows(study_table(answer, unit=length, speed_unit=speed))
    print()
    print_sentences([multiplicity_sentence(answer), *look_sentences(answer), *answer.notes])
    print("Associations are not causes.")


def declare(
    file: StudyPath,
    store: StorePath,
    who: ForTheLog = NOT_STATED,
) -> None:
    """Write a study's plan down before its data are looked at."""
    from pipelines.run_study import declare_study
    from pipelines.store import open_store

    with open_store(store) as opened:
        declared = declare_study(opened, file, who=who)
    print(f"{file}: declared {declared:%Y-%m-%d %H:%M} UTC")


def looks(
    file: StudyPath,
    store: StorePath,
    look: Annotated[
        int | None,
        typer.Option("--look", min=1, max=MOST_LOOKS, help="Number of a look, to list its tests."),
    ] = None,
) -> None:
    """List every look at the cohort of a study, or every test of one look."""
    from pipelines.store import open_store
    from pipelines.study_file import read_study
    from reports.study_rows import looks_table, tests_table

    plan = read_study(file).plan
    with open_store(store, read_only=True) as opened:
        found = opened.study_looks(plan.cohort)
        tests = None if look is None else opened.tests_of_look(plan.cohort, look)
    print(f"cohort: {plan.cohort}")
    print_rows(looks_table(found) if tests is None else tests_table(tests))


def frame(
    file: StudyPath,
    store: StorePath,
    out: Annotated[
        Path,
        typer.Option("--out", help="Folder for frame and data dictionary."),
        Output(kind="TABLE", folder=True, tables=("frame", "dictionary")),
    ],
    research: Annotated[
        bool,
        typer.Option("--research", help="To leave the academy: no codes, facts coarse."),
    ] = False,
    who: ForTheLog = NOT_STATED,
) -> None:
    """Take out the analysis frame of a study, golfers recoded, with its data dictionary."""
    from pipelines.export_frame import export_frame
    from pipelines.store import open_store

    with open_store(store) as opened:
        written = export_frame(opened, file, out, research=research, who=who)
    for path in written:
        print(path)


def features(
    table: Annotated[Path, typer.Argument(help="CSV of features, one row a swing."), READ],
    mapping: Annotated[Path, typer.Option("--mapping", help="What its columns are, TOML."), READ],
    store: StorePath,
    who: ForTheLog = NOT_STATED,
) -> None:
    """Bring a table of features in as a cohort of its own, without curves."""
    from pipelines.feature_tables import import_features
    from pipelines.store import open_store

    with open_store(store, create=True) as opened:
        done = import_features(opened, table, mapping, who=who)
    print(
        f"cohort {done.name}: {counted(done.golfers, 'golfer')}, {counted(done.swings, 'swing')}, "
        f"{counted(done.features, 'feature')}"
    )
    print_sentences([f"{words}: {count}" for words, count in done.notes.items()])


def ask(
    name: Annotated[str, typer.Argument(help="A cohort of features alone.")],
    store: StorePath,
    what: Annotated[
        list[str] | None,
        typer.Option("--what", help="bands, partition (by sex) or patterns; may be repeated."),
    ] = None,
    club: Annotated[str | None, typer.Option("--club", help="All clubs where left out.")] = None,
    unit: LengthUnit = None,
) -> None:
    """Ask a cohort of features alone for bands, a partition or patterns."""
    from pipelines.answer_features import answer_features
    from pipelines.settings import shown_unit
    from pipelines.store import open_store
    from reports.study_rows import feature_bands_table, feature_partition_table, patterns_sentence

    with open_store(store, read_only=True) as opened:
        found = answer_features(opened, name, tuple(what or ["bands"]), club=club)
        unit = unit or shown_unit(opened)
    if found.bands is not None:
        print_rows(feature_bands_table(found.bands, found.labels, unit=unit))
    if found.partition is not None:
        print_rows(feature_partition_table(found.partition, found.labels, found.units, unit=unit))
    if found.patterns is not None:
        print(patterns_sentence(found.patterns))
    print_sentences([f"not asked, {why}: {count}" for why, count in found.left_out.items()])


def timed_speeds(
    table: Annotated[
        Path, typer.Argument(help="CSV of ball speeds by golfer, club and time."), READ
    ],
    store: StorePath,
    who: ForTheLog = NOT_STATED,
) -> None:
    """Match ball speeds that carry a time to the swings of their session."""
    from pipelines.match_speeds import match_speeds_by_time
    from pipelines.store import open_store

    with open_store(store) as opened:
        found = match_speeds_by_time(opened, table, who=who)
    print(f"{counted(found.matched, 'swing')} matched")
    print_sentences([f"left alone: {words}" for words in found.unmatched])


def doubtful_speeds(store: StorePath) -> None:
    """List ball speeds that cannot be true, or only with doubt, and why."""
    from pipelines.flag_speeds import flagged_speeds
    from pipelines.store import open_store

    with open_store(store, read_only=True) as opened:
        flagged = flagged_speeds(opened)
    print_rows(
        [["swing", "verdict", "because"]] + [[f.swing, f.verdict, f.because] for f in flagged]
    )
