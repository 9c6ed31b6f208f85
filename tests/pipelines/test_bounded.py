"""No file that is read as TOML or JSON hangs the program, ends it, or fails in other words."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.cohort.levels import DEFAULT_LEVELS
from norms.errors import NormsError
from pipelines.bounded import (
    EDITION_JSON,
    PERSONS_TOML,
    BeyondReason,
    NotReadable,
    bounded_bytes,
    check_shape,
    read_json_file,
    read_toml_file,
)
from pipelines.coaching_notes import read_coaching_notes
from pipelines.cohort_file import read_cohorts
from pipelines.collect.profile import load_profile
from pipelines.feature_mapping import read_mapping
from pipelines.settings import read_settings
from pipelines.standard_file import read_standard
from pipelines.study_file import read_study

READERS = {
    "settings": read_settings,
    "standard": lambda file: read_standard(file, DEFAULT_LEVELS),
    "study": read_study,
    "cohorts": lambda file: read_cohorts(file, DEFAULT_LEVELS),
    "notes": read_coaching_notes,
    "profile": load_profile,
    "mapping": read_mapping,
}
HOSTILE = {
    "nested lists": "a = " + "[" * 100_000,
    "nested closed": "a = " + "[" * 500 + "]" * 500,
    "nested tables": "a = " + "{b=" * 50_000,
    "dotted key": ".".join("a" * 5_000) + " = 1",
    "table of depth": "[" + ".".join("a" * 5_000) + "]",
    "many digits": "a = 1" + "0" * 900_000,
    "hexadecimal": "a = 0x" + "F" * 900_000,
    "too large": "# " + "x" * 2_000_000,
    "long key": "k" * 500_000 + " = 1",
    "long text": f'a = "{"x" * 500_000}"',
    "long list": "a = [" + "1," * 400_000 + "]",
    "many keys": "\n".join(f"k{n} = 1" for n in range(50_000)),
    "many blank lines": "\n" * 900_000 + "a = 1",
    "one word again and again": "handicap" * 100_000 + " = 1",
    "many faults": "[[requirement]]\nx = 1\n" * 1_900,
    "blanks in a text": "[[requirement]]\nreason = '''" + f"[{' ' * 9_000}\n" + "'''\nx = 1",
    "infinite": "a = 1e999",
    "no number": "a = nan",
    "no day": "a = 2025-99-99",
    "year nought": "a = 0000-01-01",
    "zeros": "\0" * 1000,
    "no text": "\ud800",
}


LARGE = {
    "nested lists", "nested tables", "many digits", "hexadecimal", "too large", "long key",
    "long text", "long list", "many keys", "many blank lines", "one word again and again",
}  # fmt: skip
"""Refused by what all readers share, and slow to make: asked of two readers alone."""


@pytest.mark.parametrize(
    ("kind", "what"),
    [(k, w) for w in HOSTILE for k in READERS if w not in LARGE or k in ("settings", "profile")],
)
def test_whatever_a_persons_file_holds_is_refused_in_a_short_line(tmp_path, kind, what):
    file = tmp_path / "file.toml"
    file.write_bytes(HOSTILE[what].encode(errors="surrogatepass"))
    with pytest.raises(NormsError) as refusal:
        READERS[kind](file)
    assert "file.toml" in refusal.value.message
    lines = refusal.value.message.splitlines()
    assert all(len(line) < 2_500 for line in lines)
    assert len(lines) <= 21


@pytest.mark.parametrize("kind", READERS)
def test_an_endless_file_is_read_to_its_limit_and_no_further(kind):
    from pathlib import Path

    with pytest.raises(NormsError, match="holds more than 1 MB"):
        READERS[kind](Path("/dev/zero"))


plain = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=20,
)


@given(plain)
def test_any_json_is_read_as_it_is_or_refused(tmp_path_factory, content):
    file = tmp_path_factory.mktemp("json") / "x.json"
    file.write_text(json.dumps(content))
    try:
        read = read_json_file(file)
    except BeyondReason as fault:
        read, said = content, str(fault)
        assert "\n" not in said
    assert repr(read) == repr(content)


@given(st.binary(max_size=300))
def test_any_bytes_are_toml_or_refused(tmp_path_factory, content):
    file = tmp_path_factory.mktemp("toml") / "x.toml"
    file.write_bytes(content)
    try:
        text, _ = read_toml_file(file)
    except (BeyondReason, NotReadable) as fault:
        said = str(fault)
        assert "\n" not in said
    else:
        assert text.encode() == content.replace(b"\r\n", b"\n")


@pytest.mark.parametrize(
    "text", ["[" * 200_000, '{"a":' * 100_000, "[1e999]", "[NaN]", "[-Infinity]", "1" * 10_000]
)
def test_json_that_nests_without_end_or_holds_no_numbers_is_refused(tmp_path, text):
    file = tmp_path / "x.json"
    file.write_text(text)
    with pytest.raises((BeyondReason, NotReadable)):
        read_json_file(file)


def test_each_limit_is_met_by_what_has_just_its_size_and_by_nothing_larger(tmp_path):
    shape = replace(
        PERSONS_TOML, size=10, depth=2, values=6, entries=3, text=4, key=3, number=9.0, finite=True
    )
    for within in ({"abc": [1, 2, 9]}, {"a": {"b": 1}}, "abcd", [-9.0]):
        check_shape(within, shape)
    for beyond, words in (
        ({"abcd": 1}, "key abcd"),
        ([1, 2, 3, 4], "4 entries"),
        ({"a": {"b": [1]}}, "a.b: nests"),
        ({"a": "abcde"}, "a: 5 characters"),
        ({"a": [1, 10]}, "a.2: a number beyond 9"),
        ([float("inf")], "1: inf is no number"),
        ([[1, 2], [1, 2]], "more than 6 values"),
    ):
        with pytest.raises(BeyondReason, match=words):
            check_shape(beyond, shape)
    file = tmp_path / "f"
    file.write_bytes(b"x" * 10)
    assert bounded_bytes(file, 10) == b"x" * 10
    with pytest.raises(BeyondReason, match="holds more than"):
        bounded_bytes(file, 9)
    assert EDITION_JSON.finite
