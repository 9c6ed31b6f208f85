"""Takes the analysis frame of a study out of a store, with its data dictionary."""

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from norms.errors import NormsError
from norms.study.coarsening import coarse_frame
from norms.study.export import analysis_frame
from pipelines.roles import NOT_STATED
from pipelines.run_study import data_hash, frame_of, plan_hash
from pipelines.settings import settings_of
from pipelines.store import Store
from pipelines.study_file import read_study

if TYPE_CHECKING:
    import pandas as pd


def export_frame(
    store: Store, file: Path, folder: Path, *, research: bool = False, who: str = NOT_STATED
) -> tuple[Path, ...]:
    """Write frame.parquet, frame.csv and dictionary.csv, and log that the frame was taken out.

    What is tested on a frame in a notebook is not in the register, so the register says that a
    frame is out.

    Parameters
    ----------
    store : Store
        Open for writing.
    file : Path
        The study file.
    folder : Path
        Made where it is missing.
    research : bool
        Whether it leaves the academy: codes replaced by numbers drawn anew, ages and builds
        coarse. What singles a golfer out is left empty.
    who : str
        Role, for the log.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    NormsError
    """
    import pandas as pd

    stated = read_study(file)
    frame = frame_of(store, stated)
    if research:
        frame = coarse_frame(frame, np.random.default_rng(), settings_of(store).smallest_cell)
    columns, dictionary = analysis_frame(frame, stated.plan)
    table = pd.DataFrame(columns)
    words = pd.DataFrame(dictionary, columns=["column", "unit", "meaning"])
    said: dict[str, object] = {"study": stated.plan.name, "swings": len(frame.swings)}
    with store.act("export", who=who, details=said | {"for_research": research}):
        store.log_look(stated.plan, "export", (plan_hash(stated), data_hash(frame)), None)
    written = write_table(table, folder, "frame")
    path = folder / "dictionary.csv"
    write_bytes(path, words.to_csv(index=False).encode())
    return (*written, path)


def write_table(table: "pd.DataFrame", folder: Path, name: str) -> tuple[Path, Path]:
    """Write a table as Parquet and as CSV, each whole or not at all."""
    import io

    buffer = io.BytesIO()
    table.to_parquet(buffer, index=False)
    parquet, csv = folder / f"{name}.parquet", folder / f"{name}.csv"
    write_bytes(parquet, buffer.getvalue())
    write_bytes(csv, table.to_csv(index=False, float_format="%.10g").encode())
    return parquet, csv


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file in full or not at all, its folder made where it is missing.

    Raises
    ------
    NormsError
        If the folder cannot be made or written to.
    """
    draft = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        Path(draft).chmod(0o644)
        Path(draft).replace(path)
        draft = None
    except OSError as error:
        raise NormsError(
            f"{path}: cannot be written: {error.strerror}; check the folder", code="not_written"
        ) from error
    finally:
        if draft is not None:
            Path(draft).unlink(missing_ok=True)
