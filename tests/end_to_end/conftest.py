"""A small invented academy, run through the whole job once for all tests of this folder."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from demo_data.academy import AcademyTruth, write_academy
from demo_data.labs import LAB_KEYS
from norms.records import Edition, FileOutcome
from pipelines.build_edition import build_edition
from pipelines.collect.profile import load_profile
from pipelines.collect_captures import collect_captures
from pipelines.consents import import_consents
from pipelines.import_tables import import_ball_speeds, import_roster
from pipelines.lab_profiles import keep_profile
from pipelines.store import open_store


@dataclass(frozen=True)
class Academy:
    """Where it lies, what is true of it, and what became of it."""

    folder: Path
    store: Path
    truth: AcademyTruth
    outcomes: dict[str, FileOutcome]  # by path inside the folder
    edition: Edition


@pytest.fixture(scope="session")
def academy(tmp_path_factory: pytest.TempPathFactory) -> Academy:
    folder = tmp_path_factory.mktemp("academy")
    truth = write_academy(folder, seed=11, golfers=60, workers=2)
    store_path = folder / "academy.duckdb"
    outcomes: dict[str, FileOutcome] = {}
    with open_store(store_path, create=True) as store:
        import_roster(store, folder / "roster.csv", folder / "handicaps.csv")
        import_ball_speeds(store, folder / "ball_speed.csv")
        import_consents(store, folder / "consents.csv", who="office")
        for key in LAB_KEYS:
            profile = load_profile(folder / f"{key}.toml")
            keep_profile(store, profile)
            for outcome in collect_captures([folder / "captures" / key], store, profile):
                inside = Path(outcome.source).relative_to(folder).as_posix()
                outcomes[inside] = outcome
        edition = build_edition(store, "spring")
    return Academy(folder, store_path, truth, outcomes, edition)
