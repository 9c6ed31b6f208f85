"""The whole job on an invented academy, in one go: the documentation's running example."""

import shutil
from collections import Counter
from pathlib import Path
from typing import Final

from demo_data import academy as academy_module
from demo_data.academy import AcademyTruth, write_academy
from demo_data.labs import LAB_KEYS
from norms.records import Edition, FileOutcome, LabCheck
from norms.records.golfer_place import GolferPlace
from norms.study.export import own_names
from pipelines.build_edition import build_edition
from pipelines.check_labs import check_labs
from pipelines.collect.profile import load_profile
from pipelines.collect_captures import collect_captures
from pipelines.consents import import_consents
from pipelines.demo_coaching import STANDARD, coaching_steps
from pipelines.demo_folder import clear_demo, seal_demo
from pipelines.files import json_text, write_whole
from pipelines.import_tables import import_ball_speeds, import_roster
from pipelines.lab_profiles import keep_profile
from pipelines.output_kinds import DOCUMENT, PAGE
from pipelines.place_sheet import place_sheet
from pipelines.progress import Progress
from pipelines.read_capture import PlaceRequest
from pipelines.run_study import declare_study, run_study
from pipelines.settings import shown_unit
from pipelines.store import Store, open_store
from reports.check_page import check_lead, check_page
from reports.collect_page import collect_lead, collect_page
from reports.edition_page import edition_golfers, edition_page, edition_swings
from reports.index_page import KeyNumber, Link, Step, index_page
from reports.methods_page import methods_page
from reports.patterns_page import patterns_lead, patterns_page
from reports.placement_page import placement_page
from reports.sheet_page import sheet_findings, sheet_page
from reports.study_page import study_page

EDITION: Final = "2026-autumn"
WORKERS: Final = 2
STUDY: Final = Path(academy_module.__file__).with_name("forward_travel_study.toml")


def run_demo(folder: Path, *, golfers: int, seed: int, progress: Progress) -> Path:
    """Invent an academy, collect it, build norms, place its student, set a standard, write pages.

    Parameters
    ----------
    folder : Path
        New, empty, or an earlier demo, which is written anew.
    golfers, seed : int
    progress : Progress

    Returns
    -------
    Path
        The index page.

    Raises
    ------
    NormsError
        If the folder holds anything else.
    """
    folder = clear_demo(folder)
    truth = write_academy(
        folder / "academy",
        seed=seed,
        golfers=golfers,
        progress=progress.step("inventing the academy's captures"),
        workers=WORKERS,
    )
    for file in (STUDY, STANDARD):
        shutil.copy(file, folder / "academy")
    with open_store(folder / "academy.duckdb", create=True) as store:
        outcomes = _collect(store, folder / "academy", progress)
        progress.step("building norms")
        edition = build_edition(store, EDITION)
        progress.step("placing the student's swings")
        first, *more = (folder / "academy" / capture for capture in truth.student_captures)
        request = PlaceRequest(capture=first, edition=EDITION)
        place, document = place_sheet(store, request, more=more)
        progress.step("studying ball speed")
        declare_study(store, STUDY)  # as an analyst should, before anything is looked at
        study, rows = run_study(store, STUDY)
        progress.step("checking the labs")
        check = check_labs(store)
        unit = shown_unit(store)
        progress.step("setting a standard")
        coaching = coaching_steps(store, folder, EDITION, unit)
    progress.step("writing pages")
    write_whole(folder / "collect.html", collect_page(outcomes), PAGE)
    norms_page = edition_page(edition, unit=unit, methods_href="methods.html")
    write_whole(folder / "edition.html", norms_page, PAGE)
    write_whole(folder / "methods.html", methods_page(unit=unit), PAGE)
    write_whole(folder / "patterns.html", patterns_page(edition, unit=unit), PAGE)
    write_whole(folder / "labs.html", check_page(check, unit=unit), PAGE)
    write_whole(
        folder / "study.html", study_page(study, own_names(rows, study.plan), unit=unit), PAGE
    )
    write_whole(folder / "student.html", sheet_page(place, unit=unit), PAGE)
    write_whole(folder / "student_details.html", placement_page(place.placement, unit=unit), PAGE)
    write_whole(folder / "student.json", json_text(document), DOCUMENT)
    index = folder / "index.html"
    write_whole(index, _index(truth, outcomes, check, edition, place, coaching, unit), PAGE)
    seal_demo(folder)
    return index


def _collect(store: Store, academy: Path, progress: Progress) -> list[FileOutcome]:
    import_roster(store, academy / "roster.csv", academy / "handicaps.csv")
    import_ball_speeds(store, academy / "ball_speed.csv")
    import_consents(store, academy / "consents.csv", who="office")
    outcomes: list[FileOutcome] = []
    for key in LAB_KEYS:
        profile = load_profile(academy / f"{key}.toml")
        keep_profile(store, profile)
        outcomes += collect_captures(
            [academy / "captures" / key],
            store,
            profile,
            workers=WORKERS,
            progress=progress.step(f"collecting {profile.lab.name}"),
        )
    return outcomes


def faults_caught(
    truth: AcademyTruth, outcomes: list[FileOutcome]
) -> list[tuple[str, str, FileOutcome | None]]:
    """Kind, file and outcome of every deliberate fault of the academy."""
    by_file = {Path(outcome.source).name: outcome for outcome in outcomes}
    return [(fault.kind, fault.file, by_file.get(Path(fault.file).name)) for fault in truth.faults]


def _left_out_words(edition: Edition) -> str:
    """Why an edition holds fewer swings than were collected."""
    rules = [f"{count:,} ({rule})" for rule, count in edition.attrition.items() if count]
    return f"Of the swings collected these are left out: {', '.join(rules)}." if rules else ""


def _index(
    truth: AcademyTruth,
    outcomes: list[FileOutcome],
    check: LabCheck,
    edition: Edition,
    place: GolferPlace,
    coaching: tuple[Step, ...],
    unit: str,
) -> str:
    caught = sum(
        outcome is not None and outcome.status in ("rejected", "duplicate")
        for _, _, outcome in faults_caught(truth, outcomes)
    )
    shown = Counter(cell.bands is not None for cell in edition.cells)
    return index_page(
        "Quillmere Academy, an invented golf academy",
        summary="From capture files to norms, and one golfer placed among their peers.",
        numbers=(
            KeyNumber(value=f"{edition_golfers(edition):,}", label="golfers"),
            KeyNumber(value=f"{edition_swings(edition):,}", label="swings"),
            KeyNumber(value=f"{caught} of {len(truth.faults)}", label="deliberate faults caught"),
        ),
        steps=(
            Step(
                title="A student among their peers, by five swings",
                text=sheet_findings(place, unit=unit)[0],
                command="norms place academy/student/*.c3d --store academy.duckdb "
                f"--edition {EDITION}",
                links=(
                    Link(href="student.html", words="The placement sheet"),
                    Link(href="student_details.html", words="Events, and the curves in numbers"),
                    Link(href="student.json", words="The same as JSON"),
                ),
            ),
            Step(
                title=f"Norms, edition {edition.name}",
                text=f"{shown[True]} groups of club and level with bands, {shown[False]} with "
                f"too few golfers to show any. {patterns_lead(edition)} {_left_out_words(edition)}",
                command=f"norms build --store academy.duckdb --edition {EDITION}",
                links=(
                    Link(href="edition.html", words="The norms"),
                    Link(href="patterns.html", words="Patterns"),
                    Link(href="methods.html", words="How every number is made, and its error"),
                ),
            ),
            *coaching,
            Step(
                title="What goes with ball speed",
                text="Within a golfer and between golfers, kept apart. An association is not a "
                "cause.",
                command="norms study academy/forward_travel_study.toml --store academy.duckdb",
                links=(Link(href="study.html", words="The study"),),
            ),
            Step(
                title="What was collected",
                text=collect_lead(outcomes),
                command="norms collect academy/captures/north_bay --store academy.duckdb "
                "--profile academy/north_bay.toml",
                links=(Link(href="collect.html", words="The report on the files"),),
            ),
            Step(
                title="Labs held in control",
                text=" ".join(check_lead(check)[1:]),
                command="norms check --store academy.duckdb --html labs.html",
                links=(Link(href="labs.html", words="Every session, and the noise budget"),),
            ),
        ),
    )
