"""The command line. Exit codes: 0 done, 1 refused, 2 not understood, 130 interrupted."""

import logging
import sys
from pathlib import Path
from typing import Annotated

import typer

from norms.errors import NormsError
from pipelines.commands import (
    care,
    coaching,
    editions,
    entries,
    intake,
    labs,
    standards,
    studies,
)
from pipelines.commands.declared_paths import Output, guarded
from pipelines.commands.terminal import shown_progress
from pipelines.limits import LARGEST_DEMO, LARGEST_SEED, LONGEST_LINE

app = typer.Typer(
    name="norms",
    help="Norms for pelvis sway, thrust and lift in the golf swing: collect captures, build "
    "norms from many golfers, place a swing among its peers.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


@app.command()
@guarded
def demo(
    folder: Annotated[
        Path, typer.Argument(help="Where to write it."), Output(kind="PAGE", folder=True)
    ] = Path("demo-output"),
    golfers: Annotated[
        int, typer.Option(help="Golfers of the invented academy.", min=60, max=LARGEST_DEMO)
    ] = 300,
    seed: Annotated[
        int, typer.Option(help="Seed of everything random.", min=0, max=LARGEST_SEED)
    ] = 2026,
) -> None:
    """Run the whole job on an invented academy, ending with the path of an index page."""
    from pipelines.demo import run_demo

    with shown_progress() as progress:
        index = run_demo(folder, golfers=golfers, seed=seed, progress=progress)
    print(index)


INTAKE = "Bring people and captures in"
LABS = "Hold labs and captures to account"
NORMS = "Build norms"
COACHING = "Beside a student"
STUDIES = "Study ball speed"
STANDARDS = "Set what the academy teaches"
CARE = "Duty of care"

for panel, commands in {
    INTAKE: (intake.roster, intake.speeds, intake.settings, intake.profile, intake.collect),
    LABS: (labs.check, labs.events, labs.hips),
    NORMS: (
        editions.build,
        editions.exclude,
        editions.exclusions,
        editions.plan,
        editions.compare,
        editions.centile,
        editions.share,
        editions.adopt,
    ),
    COACHING: (
        coaching.place,
        coaching.placements,
        coaching.progress,
        coaching.mark,
        coaching.patterns,
        coaching.peers,
    ),
    STUDIES: (
        studies.study,
        studies.declare,
        studies.looks,
        studies.features,
        studies.ask,
        studies.timed_speeds,
        studies.doubtful_speeds,
    ),
    CARE: (
        entries.entries,
        entries.amend,
        entries.withdraw,
        entries.undo,
        care.consents,
        care.erase,
        care.receipts,
        care.log,
        care.backup,
        care.restore,
    ),
}.items():
    for command in commands:
        app.command(rich_help_panel=panel)(guarded(command))
app.command("import", rich_help_panel=NORMS)(guarded(editions.import_))
app.command("export", rich_help_panel=STUDIES)(guarded(studies.frame))
app.add_typer(standards.app, name="standard", rich_help_panel=STANDARDS)


def cut(line: str, length: int) -> str:
    """A line, its end cut off where it is longer than anybody reads."""
    return line if len(line) <= length else f"{line[:length]}…"


def main() -> None:
    """Run the command line; a refusal is one line on standard error, never a traceback."""
    beside = logging.StreamHandler()  # what the store says: whom it waits for, what it finished
    beside.setFormatter(logging.Formatter("norms: %(message)s"))
    logging.getLogger("pipelines.store").addHandler(beside)
    try:
        app()
    except NormsError as refusal:
        # A message may repeat what a file says, and a file may say anything.
        lines = [cut(line, LONGEST_LINE) for line in refusal.message.split("\n")]
        print("norms: " + "\n".join(lines), file=sys.stderr)
        sys.exit(1)
