import json
import re

import pytest

from norms.placement.document import as_read, placement_document
from norms.placement.document_schema import PLACEMENT_SCHEMA
from norms.placement.place import place_swing

KINDS = {
    "object": dict,
    "array": list,
    "string": str,
    "number": (int, float),
    "integer": int,
    "boolean": bool,
    "null": type(None),
}


def faults(value, schema, path="document"):
    """Faults of a value under the part of JSON Schema that the placement's schema uses."""
    known = {"$schema", "title", "format", "type", "properties", "required"} | {
        *("additionalProperties", "items", "minItems", "maxItems", "const", "enum", "pattern"),
        *("minimum", "maximum", "exclusiveMinimum"),
    }
    assert schema.keys() <= known, f"{path}: unchecked keywords {schema.keys() - known}"
    kinds = [schema["type"]] if isinstance(schema.get("type"), str) else schema.get("type", [])
    if kinds and not any(
        isinstance(value, KINDS[kind]) and (kind == "boolean" or not isinstance(value, bool))
        for kind in kinds
    ):
        yield f"{path}: {value!r} is not {kinds}"
        return
    if "const" in schema and value != schema["const"]:
        yield f"{path}: {value!r} is not {schema['const']!r}"
    if "enum" in schema and value not in schema["enum"]:
        yield f"{path}: {value!r} is not one of {schema['enum']}"
    if isinstance(value, str) and not re.search(schema.get("pattern", ""), value):
        yield f"{path}: {value!r} does not match {schema['pattern']}"
    if isinstance(value, (int, float)):
        low, high = schema.get("minimum", value), schema.get("maximum", value)
        if not low <= value <= high or value <= schema.get("exclusiveMinimum", float("-inf")):
            yield f"{path}: {value} out of range"
    if isinstance(value, dict):
        yield from (f"{path}: lacks {n}" for n in schema["required"] if n not in value)
        yield from (f"{path}: unknown {n}" for n in value.keys() - schema["properties"].keys())
        for name in value.keys() & schema["properties"].keys():
            yield from faults(value[name], schema["properties"][name], f"{path}.{name}")
    if isinstance(value, list):
        length = len(value)
        if not schema.get("minItems", length) <= length <= schema.get("maxItems", length):
            yield f"{path}: {length} items"
        for place, item in enumerate(value):
            yield from faults(item, schema["items"], f"{path}[{place}]")


@pytest.fixture
def placement(swing_of, edition, roster):
    swing = swing_of("Q0003", missing={"tempo": "no backswing"}, stand_ins=("top",))
    return place_swing(swing, edition, golfer=roster["Q0003"])


def through_json(document):
    return json.loads(json.dumps(document, allow_nan=False))


@pytest.mark.parametrize("curves", [True, False])
def test_the_document_is_valid_under_its_schema(placement, curves):
    document = through_json(placement_document(placement, curves=curves))
    assert list(faults(document, PLACEMENT_SCHEMA)) == []
    assert ("curves" in document) == curves


def test_a_withheld_placement_is_valid_too(swing_of, edition, roster):
    placement = place_swing(swing_of("Q0029"), edition, golfer=roster["Q0029"])
    document = through_json(placement_document(placement))
    assert list(faults(document, PLACEMENT_SCHEMA)) == []
    assert document["cohort"]["withheld"].startswith("2 golfers")
    assert document["curves"]["peers_cm"] == []


def test_a_placement_with_whole_curve_and_handicap_is_valid_too(swing_of, small_academy):
    swing = swing_of("Q0020", value=3.0)
    placed = place_swing(swing, small_academy.edition, golfer=small_academy.golfers["Q0020"])
    for curves in (True, False):
        document = through_json(placement_document(placed, curves=curves))
        assert list(faults(document, PLACEMENT_SCHEMA)) == []
        assert document["whole_curve"]["peers"] == placed.peers
        assert len(document["by_handicap"]) == 5


@pytest.mark.parametrize(
    ("damage", "fault"),
    [
        (lambda d: d.pop("events"), "lacks events"),
        (lambda d: d["schema"].update(version=3), "is not 2"),
        (lambda d: d["features"].pop(), "items"),
        (lambda d: d["features"][0].update(percentile=101), "out of range"),
        (lambda d: d["features"][0].update(value="4"), "is not"),
        (lambda d: d["edition"].update(sha256="x"), "does not match"),
        (lambda d: d["curves"]["swing_cm"]["lift"].pop(), "items"),
        (lambda d: d.update(name="someone"), "unknown name"),
    ],
)
def test_the_schema_refuses_what_it_should(placement, damage, fault):
    document = placement_document(placement)
    damage(document)
    assert any(fault in found for found in faults(document, PLACEMENT_SCHEMA))


def test_it_says_what_the_placement_says(placement, edition):
    document = placement_document(placement)
    assert document["schema"] == {"name": "placement", "version": 2}
    assert document["edition"] == {
        "name": "spring",
        "sha256": edition.content_hash,
        "imported": False,
    }
    assert document["events"]["top"] == {
        "time_s": pytest.approx(1.3),
        "method": "hands reversal",
        "stand_in": True,
        "uncertainty_s": 0.02,
    }
    travel = next(f for f in document["features"] if f["name"] == "sway_travel")
    assert (travel["unit"], travel["value"], travel["peers"]) == ("cm", 10.0, 19)
    assert (travel["peers_below"], travel["peers_range"]["percents"]) == (9, [25.0, 75.0])
    tempo = next(f for f in document["features"] if f["name"] == "tempo")
    assert (tempo["value"], tempo["missing_reason"]) == (None, "no backswing")
    assert document["cautions"] == list(placement.cautions)


def test_only_supported_percentiles_are_drawn(placement):
    curves = placement_document(placement)["curves"]
    assert curves["node_times_s"] == pytest.approx(placement.swing.curve.times_s, abs=1e-6)
    assert curves["swing_cm"]["thrust"] == pytest.approx(
        placement.swing.curve.values_cm[1], abs=1e-4
    )
    peers = curves["peers_cm"]
    assert [band["percent"] for band in peers] == [25.0, 50.0, 75.0]
    assert peers[1]["value"]["sway"][0] == 0.0
    assert peers[0]["low"]["lift"][-1] <= peers[0]["value"]["lift"][-1]


def test_numbers_carry_no_binary_remainders(placement):
    assert as_read({"low": 31.599999999999998, "of": [(0.1 + 0.2, 3, True, None, "x")]}) == {
        "low": 31.6,
        "of": [[0.3, 3, True, None, "x"]],
    }
    assert as_read(1.23456789e-7) == 1.2345679e-7  # significant digits: no p value becomes 0
    document = placement_document(placement)
    text = json.dumps({name: part for name, part in document.items() if name != "curves"})
    assert not re.search(r"\d\.\d{12,}", text)
    told = {one["name"]: one["value"] for one in document["features"]}
    for place in placement.features:
        exact = None if place.value is None else pytest.approx(place.value, rel=1e-7)
        assert told[place.feature] == exact
