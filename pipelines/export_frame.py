"""Takes the analysis frame of a study out of a store, with its data dictionary."""

from pathlib import Path

import numpy as np

from norms.study.coarsening import coarse_frame
from norms.study.export import analysis_frame
from pipelines.csv_cells import frame_csv
from pipelines.files import make_folder
from pipelines.roles import NOT_STATED
from pipelines.run_study import data_hash, frame_of, plan_hash
from pipelines.settings import settings_of
from pipelines.store import Store
from pipelines.study_file import read_study
from pipelines.table_files import refuse_foreign, table_files, write_files


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
    texts = {"frame": table_files(table), "dictionary": {".csv": frame_csv(words).encode()}}
    place = make_folder(folder)
    for name, files in texts.items():
        refuse_foreign(place, name, files)
    said: dict[str, object] = {"study": stated.plan.name, "swings": len(frame.swings)}
    with store.act("export", who=who, details=said | {"for_research": research}) as act:
        act.say(folder=store.audit.without_codes(str(folder)))
        store.log_look(stated.plan, "export", (plan_hash(stated), data_hash(frame)), None)
    written = (write_files(folder, name, files) for name, files in texts.items())
    return tuple(path for paths in written for path in paths)
