"""Brings a store's tables to the version this program knows, one transaction a step."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import files

import duckdb

from norms.errors import StoreRefused
from pipelines.store.database import Database


@dataclass(frozen=True, slots=True, kw_only=True)
class Migration:
    """One numbered step: ``schema/<version>_<name>.sql``."""

    version: int
    name: str
    sql: str


def known_migrations() -> tuple[Migration, ...]:
    """Every step this program knows, in order."""
    steps = []
    for entry in files("pipelines.store").joinpath("schema").iterdir():
        number, _, name = entry.name.removesuffix(".sql").partition("_")
        steps.append(
            Migration(version=int(number), name=name, sql=entry.read_text(encoding="utf-8"))
        )
    return tuple(sorted(steps, key=lambda step: step.version))


def missing_migrations(database: Database, name: str, *, create: bool) -> tuple[Migration, ...]:
    """Steps the store lacks; refuses a store that cannot be used.

    Raises
    ------
    StoreRefused
        ``not_a_store`` or ``store_newer``.
    """
    steps = known_migrations()
    newest = steps[-1].version
    version = _stored_version(database)
    if version is None or (version == 0 and not create):
        raise StoreRefused(
            f"{name}: is a DuckDB file but not a store of this program: check the path",
            code="not_a_store",
        )
    if version > newest:
        raise StoreRefused(
            f"{name}: has tables of version {version}, this program knows up to {newest}: "
            "update the program",
            code="store_newer",
        )
    return steps[version:]


def _stored_version(database: Database) -> int | None:
    """Version of the store; 0 where the file holds no tables, None where it is not a store."""
    tables = {name for (name,) in database.rows("stored_tables")}
    if not tables:
        return 0
    if "schema_version" not in tables:
        return None
    version: int = database.rows("stored_version")[0][0]
    return version


def apply_migrations(database: Database, steps: Sequence[Migration]) -> None:
    """Apply each step in a transaction of its own, and record it there."""
    for step in steps:
        with database.transaction():
            database.script(step.sql)
            now = datetime.now(UTC).replace(tzinfo=None)
            database.rows("record_version", (step.version, step.name, now, duckdb.__version__))
