"""What the demo shows the director and the coach: a standard in use, a golfer's progress."""

from collections import defaultdict
from datetime import date
from pathlib import Path
from typing import Final

from demo_data import academy as academy_module
from norms.errors import NormsError
from norms.records import SwingPool
from pipelines.check_golfers import ReviewRequest, check_golfers
from pipelines.files import write_bytes_whole, write_whole
from pipelines.manage_standard import (
    approve_standard,
    edition_of,
    review_standard,
    standing_of,
)
from pipelines.output_kinds import PAGE, PDF
from pipelines.store import Store
from pipelines.track_progress import track_progress
from reports.index_page import Link, Step
from reports.progress_page import counts_sentence, progress_page
from reports.standards_page import lead_sentence, standards_page
from reports.standards_sheet import standard_pdf, standard_sheet

STANDARD: Final = Path(academy_module.__file__).with_name("club_golfers_driver.toml")
CLUB: Final = "driver"
_AS_A_RULE: Final = "Set by persons on the evidence of the edition; a norm alone asks nothing."


def coaching_steps(store: Store, folder: Path, edition: str, unit: str) -> tuple[Step, ...]:
    """Write the pages of the director and of progress, and say what came of them."""
    pool = store.swing_pool()
    return (
        _standard_step(store, folder, unit, max(pool.recorded_on)),
        _progress_step(store, folder, edition, unit, _most_swings_twice(pool)),
    )


def _standard_step(store: Store, folder: Path, unit: str, day: date) -> Step:
    """Carry a standard from its file to approval and hold the academy's golfers against it.

    A small academy has too few golfers behind it; then the step says so and has no page.
    """
    title = "A coaching standard, and who meets it"
    command = "norms standard check club_golfers_driver --store academy.duckdb"
    try:
        read, _ = review_standard(
            store, STANDARD, role="head coach", reason="what we look at first", on=day
        )
        name = read.standard.name
        approve_standard(
            store, name, role="academy director", reason="agreed with the coaches", on=day
        )
        review = check_golfers(store, ReviewRequest(standard=name, keep=True), today=day)
    except NormsError as refusal:
        return Step(title=title, text=f"Not shown: {refusal.message}.", command=command)
    standard, decision = standing_of(store, name)
    evidence = edition_of(store, standard).cell(standard.evidence)
    write_whole(folder / "standard.html", standards_page(review, decision, unit=unit), PAGE)
    sheet = standard_sheet(standard, evidence, decision, unit=unit)
    write_whole(folder / "standard_sheet.html", sheet, PAGE)
    pdf = standard_pdf(standard, evidence, decision, unit=unit)
    write_bytes_whole(folder / "standard_sheet.pdf", pdf, PDF)
    return Step(
        title=title,
        text=f"{lead_sentence(review)} {_AS_A_RULE}",
        command=command,
        links=(
            Link(href="standard.html", words="The director’s page"),
            Link(href="standard_sheet.html", words="The sheet for the wall"),
            Link(href="standard_sheet.pdf", words="The same to print"),
        ),
    )


def _progress_step(store: Store, folder: Path, edition: str, unit: str, golfer: str) -> Step:
    """Judge what changed for a golfer between the last two sessions."""
    title = "What changed since last time"
    command = f"norms progress {golfer} --store academy.duckdb --edition {edition} --club {CLUB}"
    try:
        progress = track_progress(store, golfer, edition, club=CLUB)
    except NormsError as refusal:
        return Step(title=title, text=f"Not shown: {refusal.message}.", command=command)
    write_whole(folder / "progress.html", progress_page(progress, unit=unit), PAGE)
    return Step(
        title=title,
        text=f"Golfer {golfer}: {counts_sentence(progress)}",
        command=command,
        links=(Link(href="progress.html", words="Two sessions side by side"),),
    )


def _most_swings_twice(pool: SwingPool) -> str:
    """Of the golfers with two sessions or more, the one with most swings in the smaller of two."""
    counts: dict[str, dict[date, int]] = defaultdict(lambda: defaultdict(int))
    for golfer, club, day in zip(pool.golfers, pool.clubs, pool.recorded_on, strict=True):
        counts[golfer][day] += club == CLUB
    smaller = {
        golfer: min(days[day] for day in sorted(days)[-2:])
        for golfer, days in counts.items()
        if len(days) > 1
    }
    return min(smaller, key=lambda golfer: (-smaller[golfer], golfer))
