"""The example of the invented academy stands on what its golfers do."""

from dataclasses import replace
from datetime import date
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from demo_data.calendar import calendar_for
from demo_data.golfers import invent_golfer
from demo_data.labs import load_lab
from norms.cohort.edition import build_edition
from norms.cohort.levels import DEFAULT_LEVELS
from norms.cohort.measurement_error import measurement_error
from norms.records import DatedHandicap, SwingPool
from norms.standards.quantities import quantity_errors
from norms.standards.resolve import resolve
from norms.standards.validate import check_standard
from norms.swing.catalogue import FEATURE_NAMES
from norms.synthetic import capture_times, swing_truth
from pipelines.demo import EDITION
from pipelines.standard_file import read_standard

HANDICAP = DatedHandicap(since=date(2020, 1, 1), index=9.0)
EXAMPLE = Path(str(files("demo_data").joinpath("juniors_driver.toml")))


@pytest.fixture(scope="module")
def academy():
    """Golfers of one level as the academy is invented, with their true curves and features."""
    golfers, rows = {}, []
    for place in range(64):
        seed = np.random.SeedSequence(7, spawn_key=(place,))
        drawn = invent_golfer(seed, f"Q{place:04d}", "to_12", calendar_for(64))
        # One handicap for all, so that no small neighbouring level withholds the group.
        golfers[f"Q{place:04d}"] = replace(
            drawn.person.golfer, consents_norms=True, professional=False, handicaps=(HANDICAP,)
        )
        rows += [swing for swing in drawn.swings if swing.club == "driver"]
    curves, features = [], []
    for swing in rows:
        times = capture_times(swing.parameters, load_lab(swing.lab).rate_hz)
        truth = swing_truth(swing.parameters, times)
        marks = [truth.events_s[event] for event in ("start", "top", "impact", "finish")]
        nodes = np.interp(np.arange(301), [0, 100, 200, 300], marks)
        curves.append([np.interp(nodes, truth.times_s, axis) for axis in truth.path_cm.T])
        features.append([truth.features.get(name, np.nan) for name in FEATURE_NAMES])
    pool = SwingPool(
        swings=tuple(swing.code for swing in rows),
        golfers=tuple(swing.golfer for swing in rows),
        clubs=tuple(swing.club for swing in rows),
        labs=tuple(swing.lab for swing in rows),
        recorded_on=tuple(swing.recorded_on for swing in rows),
        curves_cm=np.array(curves),
        feature_names=FEATURE_NAMES,
        features=np.array(features),
    )
    return build_edition(EDITION, pool, golfers), measurement_error(pool, "driver")


def test_example_is_borne_by_the_academy_and_warned_of_where_it_must_be(academy):
    edition, noise = academy
    file = read_standard(EXAMPLE, DEFAULT_LEVELS)
    standard, faults = resolve(file.asked, edition)
    file.refuse(faults)
    errors = quantity_errors(noise, [one.quantity for one in standard.requirements])
    findings = check_standard(standard, edition, errors)
    file.refuse(findings)
    # Its limits rest on golfers of any age: that has to be said.
    assert "other_golfers" in {one.code for one in findings}
    assert standard.golfers.age_to == 17


def test_example_is_cautious_about_juniors_and_backs():
    file = read_standard(EXAMPLE, DEFAULT_LEVELS)
    assert any("growth" in caution for caution in file.asked.cautions)
    assert all(
        one.range.reason for one in file.asked.requirements if one.range.ways == ("numbers",)
    )
