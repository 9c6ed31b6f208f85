"""Another academy's export may hold anything: it is read, or refused in one short line."""

import copy
import json
import shutil
from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from norms.errors import CohortRefused
from norms.records import Golfer
from pipelines.export_edition import export_edition
from pipelines.import_edition import read_edition
from pipelines.store import open_store

HOSTILE = (
    None, True, -1, 10**30, 1e308, -1e-308, 0.5, "", "x" * 5_000, [], {}, [[[]]], [None], [1e300],
    {"a": {}}, [-1, -1], [10**9, 10**9],
)  # fmt: skip


@pytest.fixture(scope="module")
def exported(tmp_path_factory, small_academy):
    folder = tmp_path_factory.mktemp("export") / "out"
    with open_store(":memory:") as store:
        members = {code for one in small_academy.edition.cells for code in one.cohort.golfers}
        store.add_golfers([Golfer(code=code, hand="right") for code in sorted(members)])
        store.save_edition(small_academy.edition, datetime(2026, 6, 1, tzinfo=UTC))
        export_edition(store, small_academy.edition.name, folder)
    return folder


def places(document, here=()):
    """Every place of a document, inner ones too."""
    inner = document.items() if isinstance(document, dict) else enumerate(document)
    for key, value in inner:
        yield (*here, key)
        if isinstance(value, dict | list):
            yield from places(value, (*here, key))


@pytest.fixture(scope="module")
def every_place(exported):
    return list(places(json.loads((exported / "edition.json").read_text())))


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_one_value_replaced_is_refused_in_a_line_or_changes_nothing(
    exported, every_place, tmp_path, data
):
    document = json.loads((exported / "edition.json").read_text())
    *way, last = data.draw(st.sampled_from(every_place))
    inside = document
    for key in way:
        inside = inside[key]
    inside[last] = copy.deepcopy(data.draw(st.sampled_from(HOSTILE)))
    folder = tmp_path / "changed"
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(exported, folder)
    (folder / "edition.json").write_text(json.dumps(document))
    try:
        read_edition(folder)
    except CohortRefused as refusal:
        said = refusal.message
        assert "\n" not in said
        assert len(said) < 600


@pytest.mark.parametrize(
    "text",
    [
        "[" * 300_000,
        '{"a":' * 100_000 + "1" + "}" * 100_000,
        '{"schema": ' + "9" * 1_000_000 + "}",
        '{"schema": 1e999}',
        '{"schema": NaN}',
        "\ufeff{}",
        "",
    ],
)
def test_json_without_end_or_of_no_number_is_refused_in_a_line(exported, tmp_path, text):
    folder = shutil.copytree(exported, tmp_path / "changed")
    (folder / "edition.json").write_text(text)
    with pytest.raises(CohortRefused) as refusal:
        read_edition(folder)
    assert "\n" not in refusal.value.message
    assert len(refusal.value.message) < 600


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("golfers", 10**9, "golfers of a group"),
        ("swings", -1, "swings of a group"),
        ("golfers", 12.5, "golfers of a group"),
        ("confidence", 1.5, "confidence of a group"),
        ("percents", [5.0, 120.0], "percents of a group"),
    ],
)
def test_counts_and_percents_that_cannot_be_are_named(exported, tmp_path, key, value, words):
    folder = shutil.copytree(exported, tmp_path / "changed")
    file = folder / "edition.json"
    document = json.loads(file.read_text())
    next(cell for cell in document["cells"] if cell["percents"])[key] = value
    file.write_text(json.dumps(document))
    with pytest.raises(CohortRefused, match=words):
        read_edition(folder)


def test_a_table_of_too_many_rows_is_refused_before_it_is_read(exported, monkeypatch):
    monkeypatch.setattr("pipelines.import_edition.MOST_EXPORTED_ROWS", 10)
    with pytest.raises(CohortRefused, match="holds more than 10 rows"):
        read_edition(exported)
    monkeypatch.setattr("pipelines.import_edition.LARGEST_EXPORT", 100)
    with pytest.raises(CohortRefused, match=r"holds more than 0\.0001 MB"):
        read_edition(exported)
