"""A study's results as files: tidy tables, one number a row, and JSON."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from norms.records.plain import take_apart
from norms.records.study_answer import AlongSwing, Study
from norms.vocabulary import AXES, NODES
from pipelines.files import make_folder
from pipelines.table_files import refuse_foreign, table_files, write_files

if TYPE_CHECKING:
    import pandas as pd

SCHEMA = "study/1"


def write_results(study: Study, folder: Path) -> tuple[Path, ...]:
    """Write effects, models and along as Parquet and as CSV.

    Parameters
    ----------
    study : Study
    folder : Path
        Made where it is missing.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    NormsError
        If the folder cannot be written to.
    """
    tables = {"effects": effects_table(study), "models": models_table(study)}
    if study.along:
        tables["along"] = along_table(study)
    make_folder(folder)
    files = {name: table_files(table) for name, table in tables.items()}
    for name, contents in files.items():
        refuse_foreign(folder, name, contents)
    written = (write_files(folder, name, contents) for name, contents in files.items())
    return tuple(path for paths in written for path in paths)


def effects_table(study: Study) -> "pd.DataFrame":
    """One row for each feature and part: slope in m/s per unit of the feature, interval, p.

    ``together`` is true for the model in which the named features are adjusted for one another.
    """
    import pandas as pd

    rows = []
    named = set(study.plan.primary)
    for together, models in ((False, study.models), (True, study.together)):
        for model in models:
            who = {"feature": model.feature, "unit": model.unit, "together": together}
            for effect in (model.within, model.between):
                facts, _ = take_apart(effect)
                rows.append({**who, "declared": model.feature in named, **facts})
    return pd.DataFrame(rows)


def models_table(study: Study) -> "pd.DataFrame":
    """One row for each feature: variances, variance explained, diagnostics, method."""
    import pandas as pd

    rows = []
    for model in study.models:
        facts, _ = take_apart(model)
        influence = facts.pop("influence") or {}
        for part in ("within", "between"):
            del facts[part]
        rows.append({**facts, **{f"influence_{name}": value for name, value in influence.items()}})
    return pd.DataFrame(rows)


def along_table(study: Study) -> "pd.DataFrame":
    """One row for each node of each axis, kind and part."""
    import pandas as pd

    return pd.concat([pd.DataFrame(_along_columns(one)) for one in study.along], ignore_index=True)


def _along_columns(one: AlongSwing) -> dict[str, Any]:
    numbers = {name: getattr(one, name).ravel() for name in ("value", "low", "high", "spread", "t")}
    return {
        "kind": one.kind,
        "part": one.part,
        "axis": np.repeat(AXES, NODES),
        "node": np.tile(np.arange(NODES), len(AXES)),
        **numbers,
        "adjusted_p": one.node_p.ravel(),
    }


def study_document(study: Study) -> dict[str, Any]:
    """A study as plain JSON values: nothing left out, numbers that are not finite as null."""
    document, arrays = take_apart(study)
    plain: dict[str, Any] = _without_words(document)
    for place, values in arrays.items():
        *path, name = place.split(".")
        here: Any = plain
        for step in path:
            here = here[int(step)] if step.isdigit() else here[step]
        here[name] = list(_rows(values))
    return {"schema": SCHEMA, **plain}


def _without_words(value: Any) -> Any:
    """JSON has no word for a number that is not finite: null stands for it."""
    if isinstance(value, dict):
        return {name: _without_words(item) for name, item in value.items()}
    if isinstance(value, list):
        return [_without_words(item) for item in value]
    return None if isinstance(value, str) and value in ("nan", "inf", "-inf") else value


def _rows(values: np.ndarray[Any, np.dtype[np.float64]]) -> Iterator[list[float | None]]:
    for row in values:
        yield [float(number) if np.isfinite(number) else None for number in row]
