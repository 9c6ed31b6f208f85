"""One connection to DuckDB: runs named queries, moves Arrow tables, and refuses in one line."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import duckdb

from norms.errors import StoreRefused

if TYPE_CHECKING:
    import pyarrow as pa

Row = tuple[Any, ...]


@cache
def query(name: str) -> str:
    """Text of ``queries/<name>.sql``."""
    return files("pipelines.store").joinpath("queries", f"{name}.sql").read_text(encoding="utf-8")


class Database:
    """A connection to one store, with every error of the database turned into a refusal.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    path : str
        Name of the store for messages.
    """

    def __init__(self, connection: duckdb.DuckDBPyConnection, path: str) -> None:
        self._connection = connection
        self._path = path

    def close(self) -> None:
        """Give the store free for other processes."""
        self._connection.close()

    def rows(self, name: str, parameters: Sequence[object] = ()) -> list[Row]:
        """Run a named query and return its rows; for few rows of plain values."""
        return self.script(query(name), parameters)

    def script(self, text: str, parameters: Sequence[object] = ()) -> list[Row]:
        """Run SQL given as text and return the rows of its last statement."""
        with self._refusing():
            return self._connection.execute(text, list(parameters)).fetchall()

    def arrow(self, name: str, parameters: Sequence[object] = ()) -> "pa.Table":
        """Run a named query and return an Arrow table; for many rows, or arrays."""
        with self._refusing():
            relation = self._connection.sql(query(name), params=list(parameters))
            return relation.to_arrow_table()

    def take_in(self, name: str, table: "pa.Table") -> list[Row]:
        """Run a named query that reads ``table`` under the name ``incoming``.

        A registered Arrow table goes in a hundred times faster than rows one by one.
        """
        with self._refusing():
            self._connection.register("incoming", table)
            rows = self._connection.execute(query(name)).fetchall()
            # Not in a `finally`: an aborted transaction lets nothing be unregistered; what is
            # left behind by an error is replaced by the next table.
            self._connection.unregister("incoming")
            return rows

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Everything inside is kept as a whole, or, on any exception or kill, not at all."""
        with self._refusing():
            self._connection.begin()
        try:
            yield
            with self._refusing():
                self._connection.commit()
        except BaseException:
            # A failed commit, or an error that ended the transaction, leaves nothing to undo.
            with self._ignoring_ended_transaction():
                self._connection.rollback()
            raise

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
