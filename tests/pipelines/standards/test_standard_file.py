"""The file of a standard: read, edited by hand, and faulted by line."""

from datetime import date
from pathlib import Path

import pytest

from norms.cohort.levels import DEFAULT_LEVELS
from norms.errors import StandardRefused
from norms.records.standard import StandardFinding
from pipelines.standard_file import read_standard
from pipelines.text_lines import line_of

WHOLE = """\
# An example
name = "juniors_driver"
title = "Juniors, driver"
edition = "spring"
evidence = "driver/to_12"
rationale = "what we teach"
review_on = 2027-05-01
length_unit = "in"

[golfers]
club = "driver"
age_to = 17
levels = ["to_5", "to_12"]

[[requirement]]
feature = "sway_travel"
low_percentile = 10
high_percentile = 90

[[requirement]]
axis = "lift"
from = "top"
to = "downswing 50"
low = -2.0
reason = "agreed with the coaches"
priority = 2

[[requirement]]
feature = "tempo"
low = 2.0
high = 4.0
reason = "agreed with the coaches"
"""


@pytest.fixture
def written(tmp_path):
    def write(text: str) -> Path:
        path = tmp_path / "standard.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def read(path):
    return read_standard(path, DEFAULT_LEVELS)


def refusal(path) -> str:
    with pytest.raises(StandardRefused) as caught:
        read(path)
    return caught.value.message


def test_a_whole_file_is_read_and_lengths_are_put_in_centimetres(written):
    asked = read(written(WHOLE)).asked
    assert asked.review_on == date(2027, 5, 1)
    assert (asked.golfers.age_to, [one.key for one in asked.golfers.levels]) == (
        17, ["to_5", "to_12"],
    )  # fmt: skip
    first, second, third = asked.requirements
    assert first.range.percents == (10, 90)
    assert second.quantity.key == "lift@100-150"
    assert second.range.low == pytest.approx(-5.08)
    assert second.priority == 2
    assert (third.range.low, third.range.high) == (2.0, 4.0)  # a ratio has no length


@pytest.mark.parametrize(
    ("was", "now", "line", "words"),
    [
        (
            'title = "Juniors, driver"',
            'titel = "x"',
            3,
            "titel: is no key of this file; allowed here: name, title, edition",
        ),
        ("review_on = 2027-05-01", 'review_on = "May"', 7, "review_on: input should be a valid"),
        ('length_unit = "in"', 'length_unit = "yd"', 8, "length_unit: input should be"),
        ("age_to = 17", 'age_to = "17"', 12, "age_to: input should be a valid integer"),
        ('levels = ["to_5", "to_12"]', 'levels = ["to_6"]', 13, "levels: 'to_6' is none of"),
        ('feature = "sway_travel"', 'feature = "sway_far"', 16, "'sway_far' is no feature"),
        (
            "high_percentile = 90",
            "high_percentil = 90",
            18,
            "high_percentil: is no key of this file; allowed here: feature, axis, from, to",
        ),
        ('from = "top"', 'from = "middle"', 22, "'middle' is no point of a swing"),
        ('from = "top"', 'from = "impact"', 22, "from 'impact' to 'downswing 50' is empty"),
        ("low = -2.0", 'low = "-2"', 24, "low: input should be a valid number"),
        ("priority = 2", "priority = 0", 26, "priority: input should be greater"),
        ("low = 2.0", "low = inf", 30, "low: input should be a finite number"),
        ('name = "juniors_driver"', 'name = "Juniors!"', 2, "name: small letters"),
    ],
)
def test_a_fault_is_told_with_its_line(written, was, now, line, words):
    assert was in WHOLE
    message = refusal(written(WHOLE.replace(was, now, 1)))
    assert f"standard.toml, line {line}: " in message
    assert words in message


def test_every_fault_of_the_form_has_a_line_of_its_own(written):
    text = WHOLE.replace("age_to = 17", 'age_to = "x"').replace("low = 2.0", 'low = "y"')
    lines = refusal(written(text)).splitlines()
    assert [line.split(": ")[0].split(", ")[1] for line in lines] == ["line 12", "line 30"]


def test_a_missing_key_is_named_with_the_file(written):
    message = refusal(written(WHOLE.replace('evidence = "driver/to_12"\n', "")))
    assert message.endswith("standard.toml: evidence: is missing; state it")


def test_a_requirement_of_feature_and_stretch_at_once_is_refused(written):
    both = WHOLE.replace('axis = "lift"', 'axis = "lift"\nfeature = "tempo"')
    assert "either a feature, or the axis" in refusal(written(both))


def test_a_plus_handicap_as_a_number_is_refused(written):
    plus = WHOLE.replace("age_to = 17", "handicap_above = +2.0")
    assert "handicap_above: write a plus handicap in quotes" in refusal(written(plus))


def test_what_is_no_toml_is_told_with_its_line(written):
    message = refusal(written("name = \n"))
    assert "is not a TOML file" in message
    assert "line 1" in message


def test_a_file_that_is_not_there_is_refused(tmp_path):
    assert "cannot be read" in refusal(tmp_path / "none.toml")


def test_a_finding_points_at_its_key_else_at_its_requirement(written):
    file = read(written(WHOLE))
    finding = StandardFinding(
        severity="refused", code="x", message="too high", requirement=2, key="high"
    )
    assert file.sentence(finding).endswith("standard.toml, line 31: too high")
    no_key = StandardFinding(severity="refused", code="x", message="m", requirement=1, key="high")
    assert file.where(no_key).endswith("line 20")
    assert file.where(
        StandardFinding(severity="warning", code="x", message="m", key="evidence")
    ).endswith("line 5")
    with pytest.raises(StandardRefused, match="line 31"):
        file.refuse([finding])


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("b",), 2),
        (("t", "x"), 4),
        (("t", "unknown"), 3),
        (("list", 1, "x"), 8),
        (("list", 5, "x"), None),
        (("nothing",), None),
        ((), None),
    ],
)
def test_lines_of_keys(place, line):
    text = 'a = 1\n"b" = 2\n[t]\nx = 1\n[[list]] # first\nx = 1\n[[list]]\nx.y = 2\n'
    assert line_of(text, place) == line
