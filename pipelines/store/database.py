"""One connection to DuckDB: runs named queries, moves Arrow tables, and refuses in one line.

Whatever is written is written within an act, in the transaction of that act and with its line in
the log: one that a job declares (``Store.act``), else one that is called after the first query
that wrote. Which tables an act touches is read off the queries, so that none can be forgotten.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

import duckdb

from norms.errors import StoreRefused
from pipelines.store.act import Act

if TYPE_CHECKING:
    import pyarrow as pa

Row = tuple[Any, ...]
_WRITES: Final = re.compile(
    r'\b(INSERT(?:\s+OR\s+\w+)?\s+INTO|UPDATE|DELETE\s+FROM)\s+"?(\w+)\b"?(?!\s*\.)',
    re.IGNORECASE,
)
_REPLACES: Final = re.compile(r"\bOR\s+REPLACE\b|\bDO\s+UPDATE\b", re.IGNORECASE)
_COMMENT: Final = re.compile(r"--[^\n]*")


@cache
def query(name: str) -> str:
    """Text of ``queries/<name>.sql``."""
    return files("pipelines.store").joinpath("queries", f"{name}.sql").read_text(encoding="utf-8")


@cache
def tables_written(text: str) -> dict[str, bool]:
    """Tables of the store that SQL writes to, by name, and whether it may take rows away there."""
    written: dict[str, bool] = {}
    for verb, table in _WRITES.findall(_COMMENT.sub("", text)):
        if table.upper() == "SET":  # of ON CONFLICT DO UPDATE SET
            continue
        adds = verb.upper().startswith("INSERT") and not _REPLACES.search(text)
        written[table] = written.get(table, False) or not adds
    return written


class Database:
    """A connection to one store, with every error of the database turned into a refusal.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    path : str
        Name of the store for messages.

    Attributes
    ----------
    journal : callable or None
        Notes an act in the log, within its transaction and just before it is kept; None while the
        tables themselves are being made.
    """

    def __init__(self, connection: duckdb.DuckDBPyConnection, path: str) -> None:
        self._connection = connection
        self._path = path
        self.journal: Callable[[Database, Act], None] | None = None
        self._act: Act | None = None
        self._in_transaction = False

    def close(self) -> None:
        """Give the store free for other processes."""
        self._connection.close()

    def rows(self, name: str, parameters: Sequence[object] = ()) -> list[Row]:
        """Run a named query and return its rows; for few rows of plain values."""
        return self._run(query(name), parameters, name)

    def script(self, text: str, parameters: Sequence[object] = ()) -> list[Row]:
        """Run SQL given as text and return the rows of its last statement."""
        return self._run(text, parameters, "change")

    def arrow(self, name: str, parameters: Sequence[object] = ()) -> "pa.Table":
        """Run a named query and return an Arrow table; for many rows, or arrays."""
        with self._refusing():
            relation = self._connection.sql(query(name), params=list(parameters))
            return relation.to_arrow_table()

    def batches(
        self, text: str, parameters: Sequence[object], rows: int
    ) -> Iterator["pa.RecordBatch"]:
        """Run SQL and yield its rows as Arrow batches."""
        with self._refusing():
            yield from self._connection.sql(text, params=list(parameters)).to_arrow_reader(rows)

    def before(self) -> "Database":
        """The store as it was before the open transaction; to be closed by the caller."""
        with self._refusing():
            return Database(self._connection.cursor(), self._path)

    def take_in(self, name: str, table: "pa.Table") -> list[Row]:
        """Run a named query that reads ``table`` under the name ``incoming``.

        A registered Arrow table goes in a hundred times faster than rows one by one.
        """
        text = query(name)
        with self._written(text, name), self._refusing():
            self._connection.register("incoming", table)
            rows = self._connection.execute(text).fetchall()
            # Not in a `finally`: an aborted transaction lets nothing be unregistered; what is
            # left behind by an error is replaced by the next table.
            self._connection.unregister("incoming")
            return rows

    @contextmanager
    def act(self, act: Act) -> Iterator[Act]:
        """Everything inside is one act: kept with its line in the log as a whole, or not at all.

        An act within an act is part of it, and adds what it has to say.
        """
        if self._act is not None:
            yield self._act
            return
        self._act = act
        try:
            with self.transaction():
                yield act
        finally:
            self._act = None

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Everything inside is kept as a whole, or, on any exception or kill, not at all."""
        if self._in_transaction:
            yield
            return
        declared = self._act is not None
        with self._refusing():
            self._connection.begin()
        self._in_transaction = True
        try:
            yield
            if self._act is not None and self.journal is not None:
                self.journal(self, self._act)
            with self._refusing():
                self._connection.commit()
        except BaseException:
            # A failed commit, or an error that ended the transaction, leaves nothing to undo.
            with self._ignoring_ended_transaction():
                self._connection.rollback()
            raise
        finally:
            self._in_transaction = False
            if not declared:
                self._act = None

    def _run(self, text: str, parameters: Sequence[object], name: str) -> list[Row]:
        with self._written(text, name), self._refusing():
            return self._connection.execute(text, list(parameters)).fetchall()

    @contextmanager
    def _written(self, text: str, name: str) -> Iterator[None]:
        """What writes stands in a transaction, and its act knows which tables it touches."""
        tables = tables_written(text)
        if not tables or self.journal is None:
            yield
            return
        with self.transaction():
            if self._act is None:
                self._act = Act(action=name.replace("_", " "), silent_unchanged=True)
            for table, takes_away in tables.items():
                self._act.touched[table] = self._act.touched.get(table, False) or takes_away
            yield

    @contextmanager
    def _ignoring_ended_transaction(self) -> Iterator[None]:
        try:
            yield
        except duckdb.TransactionException:
            return

    @contextmanager
    def _refusing(self) -> Iterator[None]:
        try:
            yield
        except duckdb.ConstraintException as error:
            raise self._refusal(error, "store_conflict") from error
        except duckdb.Error as error:
            raise self._refusal(error, "store_failed") from error
        except RuntimeError as error:
            if "interrupted" in str(error):  # DuckDB's word for ctrl-C during a query
                raise KeyboardInterrupt from error
            raise

    def _refusal(self, error: duckdb.Error, code: str) -> StoreRefused:
        first_line = str(error).splitlines()[0]
        return StoreRefused(f"{self._path}: the store refused this: {first_line}", code=code)
