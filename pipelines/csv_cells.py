"""Tables as CSV whose cells no spreadsheet runs.

A spreadsheet takes a cell that begins with one of a few characters for a formula, and a formula
can send what stands beside it elsewhere (OWASP, "CSV Injection"). Such a text gets an apostrophe
before it, which a spreadsheet takes for the mark of a text; reading takes it away again, so that
every text comes back as it was. Numbers stay as they are, "+2.4" and "-1.2" among them.
"""

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import pandas as pd

_BEGINS: Final = "(?:^|(?<=[;\t\r\n|]))"
"""Where a cell begins, or would where another country's list separator stands in the text."""
_RUN: Final = "(?=[\\s']*[=+\\-@＝＋－＠])"
"""What a spreadsheet may run, also behind blanks and apostrophes: so that every text comes back."""
_TO_MARK: Final = re.compile(_BEGINS + _RUN)
_MARKED: Final = re.compile(_BEGINS + "'" + _RUN)
_NUMBER: Final = re.compile(r"[+-]?(\d+([.,]\d+)?|[.,]\d+)([eE][+-]?\d+)?", re.ASCII)


def cell_text(value: object) -> object:
    """A cell as it is written: a text that would be run gets an apostrophe, all else stays."""
    if not isinstance(value, str) or _NUMBER.fullmatch(value):
        return value
    return _TO_MARK.sub("'", value)


def cell_as_meant(text: str) -> str:
    """A cell as it was before `cell_text`."""
    return _MARKED.sub("", text)


def rows_csv(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> str:
    """Rows by column as CSV."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([cell_text(name) for name in columns])
    for row in rows:
        writer.writerow([cell_text(row[name]) for name in columns])
    return text.getvalue()


def frame_csv(table: "pd.DataFrame", *, float_format: str | None = None) -> str:
    """A table as CSV; without a format, a double is written so that it reads back the same."""
    safe = table.copy()
    for name in safe.columns:
        if safe[name].dtype.kind not in "biufcmM":
            safe[name] = safe[name].map(cell_text)
    safe.columns = [str(cell_text(str(name))) for name in safe.columns]
    text: str = safe.to_csv(index=False, lineterminator="\n", float_format=float_format)
    return text
