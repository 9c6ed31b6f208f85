"""No cell of a table runs in a spreadsheet, and every text comes back."""

import csv
import io

import pandas as pd
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pipelines.csv_cells import cell_as_meant, cell_text, frame_csv, rows_csv
from pipelines.import_tables import read_handicap
from pipelines.text_tables import Column, read_text_table

RUNS = "=+-@\t\r\n＝＋－＠"


@pytest.mark.parametrize(
    "text",
    ['=HYPERLINK("x")', "+cmd", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "＝1", " =1", "x;=1", "x\n=1"],
)
def test_what_would_run_is_marked_as_text(text: str) -> None:
    safe = str(cell_text(text))
    cells = safe.replace("\n", ";").replace("\r", ";").replace("\t", ";").split(";")
    assert not any(cell.strip().startswith(tuple(RUNS)) for cell in cells if cell.strip())
    assert cell_as_meant(safe) == text


@pytest.mark.parametrize("value", ["-1.2", "+2.4", "-.5", "1e-3", "Q0001", "iron-7", -1.2, 3, None])
def test_numbers_and_plain_words_stay(value: object) -> None:
    assert cell_text(value) == value


@given(st.text(alphabet=f"{RUNS}'; |1a,.", max_size=9))
@example("''=x")
@example("\t\t=x")
def test_every_text_comes_back(text: str) -> None:
    assert cell_as_meant(str(cell_text(text))) == text


def test_a_frame_is_safe_in_its_header_too_and_its_numbers_are_numbers() -> None:
    text = frame_csv(pd.DataFrame({"=x": [-1.5], "word": ["=y"], "none": [None]}))
    assert list(csv.reader(io.StringIO(text))) == [["'=x", "word", "none"], ["-1.5", "'=y", ""]]


def test_our_own_reading_takes_the_mark_away(tmp_path) -> None:
    file = tmp_path / "t.csv"
    rows = [{"golfer": "=Q1", "handicap": "+2.4"}, {"golfer": "'-Q2", "handicap": "12"}]
    file.write_text(rows_csv(["golfer", "handicap"], rows))
    columns = [Column(name="golfer", read=str), Column(name="handicap", read=read_handicap)]
    read = read_text_table(file, columns)
    assert [row.values for row in read.rows] == [
        {"golfer": "=Q1", "handicap": -2.4},
        {"golfer": "'-Q2", "handicap": 12.0},
    ]
