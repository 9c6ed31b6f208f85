"""Single rows of what persons entered: read, put right, taken out; within an act."""

from collections.abc import Mapping, Sequence
from typing import Any

from norms.records import Swing
from pipelines.store.database import Database
from pipelines.store.journal import KEYS
from pipelines.store.swings import add_swing_rows

RowValues = dict[str, Any]


class EntryRows:
    """Rows of the tables that persons fill, by the columns that tell a row from the others.

    Parameters
    ----------
    database : Database
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    def rows(self, table: str, columns: Sequence[str]) -> list[RowValues]:
        """Every row of a table, in order of its key."""
        named = ", ".join(f'"{name}"' for name in columns)
        order = ", ".join(KEYS[table])
        found = self._database.script(f'SELECT {named} FROM "{table}" ORDER BY {order}')
        return [dict(zip(columns, row, strict=True)) for row in found]

    def change(self, table: str, key: Mapping[str, Any], values: Mapping[str, Any]) -> None:
        """Give a row other values; ``store_conflict`` where another row has its new key."""
        if not values:
            return
        sets = ", ".join(f'"{name}" = ?' for name in values)
        where = " AND ".join(f'"{name}" = ?' for name in key)
        self._database.script(
            f'UPDATE "{table}" SET {sets} WHERE {where}', [*values.values(), *key.values()]
        )

    def remove(self, table: str, key: Mapping[str, Any]) -> None:
        """Take rows out."""
        where = " AND ".join(f'"{name}" = ?' for name in key)
        self._database.script(f'DELETE FROM "{table}" WHERE {where}', list(key.values()))

    def rename_swing(self, code: str, new: str) -> None:
        """Give a swing another code, wherever what belongs to it stands by its code.

        Kept placements stay as they were: they say what was placed under the old code.
        """
        for table in ("swing_event", "swing_feature", "ball_speed", "file_outcome", "exclusion"):
            self.change(table, {"swing": code}, {"swing": new})
        self.change("swing", {"code": code}, {"code": new})

    def remove_swing(self, code: str) -> None:
        """Take out a swing with its events and features; the content of its file is free again."""
        for table in ("swing_event", "swing_feature"):
            self.remove(table, {"swing": code})
        self.remove("swing", {"code": code})

    def replace_swing(self, swing: Swing) -> None:
        """Put a swing in the place of the one that has its code, from whichever file."""
        self.remove_swing(swing.label.swing)
        add_swing_rows(self._database, [swing])
