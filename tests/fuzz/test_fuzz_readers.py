"""Damaged and random files through every reader: a short run each time, the long one by -m slow.

Each run is a process of its own, as a collecting run is: whatever a file does, it must live.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
CORPUS = HERE / "corpus"


def fuzzed(*options: str) -> dict:
    done = subprocess.run(
        [sys.executable, str(HERE / "run_fuzz.py"), *options], capture_output=True, text=True
    )
    assert done.stdout, done.stderr
    report: dict = json.loads(done.stdout)
    assert done.returncode == 0, report["broken"]
    return report


def check(report: dict, files: int) -> None:
    assert report["broken"] == []
    assert report["files"] == files
    assert report["most_mb"] <= 500
    # A refusal that only names an exception is not clear: the reader has to say what is wrong.
    assert "reader_failed" not in report["shielded"]


def test_a_few_hundred_damaged_files_each_end_as_a_swing_or_a_clear_refusal():
    report = fuzzed("--files", "300", "--seed", "7")
    check(report, 300)
    assert len(report["outcomes"]) > 8  # the damage reaches many places


def test_files_once_found_to_break_a_reader_are_refused():
    report = fuzzed("--corpus", str(CORPUS))
    check(report, len(list(CORPUS.iterdir())))
    assert report["files"] > 0
    assert "swing" not in report["outcomes"]


@pytest.mark.slow
def test_ten_thousand_damaged_files_each_end_as_a_swing_or_a_clear_refusal():
    check(fuzzed("--files", "10000", "--seed", "2026"), 10_000)
