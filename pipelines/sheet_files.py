"""Sheets of many golfers in one folder, each under a name of its own."""

from pathlib import Path

from norms.errors import NormsError
from norms.records.golfer_place import GolferPlace
from pipelines.codes import FileNames
from pipelines.files import make_folder, write_whole
from pipelines.output_kinds import PAGE
from pipelines.outputs import KEPT


def write_sheet(folder: Path, names: FileNames, place: GolferPlace, page: str) -> NormsError | None:
    """Write a golfer's sheet; somebody else's file of its name is kept, and told.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    names : FileNames
        Of all sheets of the folder.
    place : GolferPlace
    page : str

    Returns
    -------
    NormsError or None
        Why there is no sheet.

    Raises
    ------
    NormsError
        If nothing can be written there: no other sheet could be.
    """
    label = place.placement.swing.label
    name = names.name(label.golfer, label.club, suffix=".html")
    try:
        write_whole(make_folder(folder) / name, page, PAGE, inside=folder)
    except NormsError as refusal:
        if refusal.code not in KEPT:
            raise
        return refusal
    return None
