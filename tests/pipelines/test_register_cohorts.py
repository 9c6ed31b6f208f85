"""Registered averages: asked for at a build, printed, and kept nowhere."""

from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from norms.cohort.edition import build_edition
from norms.cohort.phase_registration import register_phases
from norms.records import DatedHandicap, Edition, Golfer
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.cli import app
from pipelines.lab_profiles import keep_profile
from pipelines.register_cohorts import register_cohorts
from pipelines.store import open_store
from reports.registration_tables import registration_table

GOLFERS, FEW = 34, 3


def curve_of(rng: np.random.Generator) -> np.ndarray:
    """Golfers who do the same but sooner or later within the downswing; shape (3, 301)."""
    u = np.linspace(0.0, 1.0, 101)
    own = u + rng.uniform(-0.35, 0.35) * u * (1.0 - u)
    back, through = np.zeros(101), np.ones(101)
    turn = np.sin(3.0 * np.pi * own) + own
    one = np.concatenate([back, turn[1:], through[1:]])
    return np.outer([4.0, -2.0, 3.0], one)


@pytest.fixture(scope="module")
def store_path(tmp_path_factory, swing_with, north_bay) -> Path:
    path = tmp_path_factory.mktemp("registered") / "academy.duckdb"
    codes = [f"Q{k:04d}" for k in range(GOLFERS)]
    handicaps = (DatedHandicap(since=date(2025, 1, 1), index=8.0),)
    with open_store(path, create=True) as store:
        keep_profile(store, north_bay)
        store.add_golfers([Golfer(code=code, hand="right", handicaps=handicaps) for code in codes])
        swings = []
        for club, who in (("driver", codes), ("wedge", codes[:FEW])):
            for code in who:
                rng = np.random.default_rng([*code.encode()])
                curve, features = curve_of(rng), rng.normal(size=len(FEATURE_NAMES))
                swings.append(swing_with(f"{code}-{club}", code, curve, features, club=club))
        store.add_swings(swings, [], store.begin_run("North bay", datetime(2026, 5, 2, tzinfo=UTC)))
    return path


@pytest.fixture(scope="module")
def edition(store_path: Path) -> Edition:
    with open_store(store_path) as store:
        return build_edition("spring", store.swing_pool(), store.golfers())


def test_groups_that_carry_norms_are_registered_and_withheld_ones_are_not(edition) -> None:
    found = register_cohorts(edition)
    assert {one.label for one in found} == {
        cell.cohort.definition.label for cell in edition.cells if cell.bands is not None
    }
    assert any(cell.bands is None for cell in edition.cells)
    for one in found:
        assert one.golfers == GOLFERS
        assert one.registered.removed_share.min() > 0.8
        assert one.mean_moved_cm.min() > 0.1


def test_registering_leaves_the_editions_bands_and_hash_alone(edition) -> None:
    before = [cell.bands.curve_cm.copy() for cell in edition.cells if cell.bands is not None]
    kept = edition.content_hash
    register_cohorts(edition)
    after = [cell.bands.curve_cm for cell in edition.cells if cell.bands is not None]
    assert all(np.array_equal(a, b, equal_nan=True) for a, b in zip(before, after, strict=True))
    assert edition.content_hash == kept


def test_rows_say_how_much_variance_went(edition) -> None:
    one = register_cohorts(edition)[0]
    share = one.registered.removed_share
    heading, row, *_ = registration_table([one], unit="cm")
    assert heading[2:5] == [f"{axis}, variance removed" for axis in ("sway", "thrust", "lift")]
    assert row[:3] == [one.label, str(GOLFERS), f"{100 * share[0]:.0f} %"]
    assert row[5] == "downswing"


def test_the_mean_moved_is_the_largest_difference_of_the_two_means(edition) -> None:
    cell = next(cell for cell in edition.cells if cell.bands is not None)
    curves = cell.cohort.curves_cm
    wanted = np.abs(register_phases(curves).curves_cm.mean(0) - curves.mean(0)).max(axis=1)
    assert np.array_equal(register_cohorts(edition)[0].mean_moved_cm, wanted)


def test_the_build_command_prints_it_only_when_asked(store_path) -> None:
    def build(name: str, *words: str) -> str:
        given = ["build", "--store", str(store_path), "--edition", name, *words]
        result = CliRunner().invoke(app, given, catch_exceptions=False)
        assert result.exit_code == 0
        return result.stdout

    plain = build("plain")
    asked = build("asked", "--registered")
    assert "Registered within phases" not in plain
    assert asked.count("Registered within phases") == 1
    assert asked.count(f"  {GOLFERS}  ") >= 2  # driver: one level and all levels
    hashes = [out.split("content hash ")[1].split()[0] for out in (plain, asked)]
    assert hashes[0] == hashes[1]
