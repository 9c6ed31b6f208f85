"""Patterns that an edition found, as features of a study."""

from types import SimpleNamespace

import numpy as np
import pytest

from norms.cohort.frozen_shapes import FrozenShapes
from norms.cohort.own_shapes import OWN_SHAPES
from norms.errors import StudyRefused
from norms.records import Cohort, CohortDefinition, CohortNorms, Edition
from pipelines import study_patterns
from pipelines.study_file import CohortSection, read_study

GOLFERS = ("Q1", "Q2", "Q3")


@pytest.fixture
def store():
    cohort = Cohort(
        definition=CohortDefinition(key="driver/all", club="driver"),
        golfers=GOLFERS,
        swing_counts=np.ones(3),
        curves_cm=np.zeros((3, 3, 301)),
        feature_names=(),
        features=np.empty((3, 0)),
    )
    edition = Edition(
        name="autumn",
        cells=(CohortNorms(cohort=cohort, bands=None, withheld="few"),),
        parameters={},
        content_hash="0" * 64,
        attrition={},
        evidence={
            OWN_SHAPES: {
                "memberships": {"driver": {"Q1": [1.0, 0.0], "Q2": [0.2, 0.8], "Q3": [0.5, 0.5]}}
            }
        },
    )
    return SimpleNamespace(edition=lambda name: edition)


def found(monkeypatch, patterns):
    shapes = FrozenShapes(components={}, patterns=patterns, typicality={})
    monkeypatch.setattr(study_patterns, "frozen_shapes", lambda edition: shapes)


def test_memberships_are_by_golfer_and_named_by_key_and_words(store, monkeypatch):
    two = SimpleNamespace(
        found=(SimpleNamespace(key="P1", name="early"), SimpleNamespace(key="P2", name="late")),
        reason="2 patterns",
    )
    found(monkeypatch, {"driver": two})
    read = study_patterns.edition_patterns(store, "autumn", CohortSection(clubs=["driver"]))
    assert read == {
        "P1, early": {"Q1": 1.0, "Q2": 0.2, "Q3": 0.5},
        "P2, late": {"Q1": 0.0, "Q2": 0.8, "Q3": 0.5},
    }


def test_one_cloud_and_an_edition_without_patterns_say_so(store, monkeypatch):
    cloud = SimpleNamespace(found=(), reason="One cloud, no types")
    found(monkeypatch, {"driver": cloud})
    with pytest.raises(StudyRefused, match="no patterns of driver: One cloud, no types"):
        study_patterns.edition_patterns(store, "autumn", CohortSection(clubs=["driver"]))
    found(monkeypatch, {})
    with pytest.raises(StudyRefused, match="built without looking for them"):
        study_patterns.edition_patterns(store, "autumn", CohortSection(clubs=["driver"]))


def test_patterns_are_of_one_club(store):
    with pytest.raises(StudyRefused, match="exactly one club"):
        study_patterns.edition_patterns(store, "autumn", CohortSection(clubs=["driver", "iron 7"]))


def test_a_table_and_an_edition_contradict_each_other(tmp_path):
    file = tmp_path / "study.toml"
    file.write_text(
        'name = "a"\nquestion = "?"\n[cohort]\nclubs = ["driver"]\n'
        '[model]\npatterns = "p.csv"\nedition = "autumn"\n'
    )
    with pytest.raises(StudyRefused, match="not both"):
        read_study(file)
