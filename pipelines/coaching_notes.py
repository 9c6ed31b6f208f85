"""The academy's own coaching notes: a TOML file that it writes and this program only repeats."""

from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from norms.errors import NormsError
from norms.records.findings import CoachingNote
from norms.swing.catalogue import FEATURE_NAMES
from pipelines.toml_file import checked, read_toml


class _Note(BaseModel):
    model_config = ConfigDict(extra="forbid")

    feature: str
    side: Literal["above", "below"]
    text: str = Field(min_length=1)

    @field_validator("feature")
    @classmethod
    def _known(cls, feature: str) -> str:
        if feature not in FEATURE_NAMES:
            raise ValueError(f"{feature!r} is no feature; they are {', '.join(FEATURE_NAMES)}")
        return feature


class _Notes(BaseModel):
    model_config = ConfigDict(extra="forbid")

    note: list[_Note] = Field(min_length=1)


def read_coaching_notes(file: Path) -> tuple[CoachingNote, ...]:
    """Notes of a TOML file of ``[[note]]`` tables with ``feature``, ``side`` and ``text``.

    Parameters
    ----------
    file : Path

    Returns
    -------
    tuple of CoachingNote

    Raises
    ------
    NormsError
        With code ``coaching_notes``: cannot be read, is not TOML, names an unknown feature or
        side, or has two notes for one feature and side.
    """
    _, content = read_toml(file, _refused)
    stated = checked(_Notes, content, f"{file}: ", _refused)
    notes = tuple(
        CoachingNote(feature=note.feature, side=note.side, text=note.text) for note in stated.note
    )
    sides = [(note.feature, note.side) for note in notes]
    for feature, side in sides:
        if sides.count((feature, side)) > 1:
            raise _refused(f"{file}: two notes for {feature} {side}; keep one")
    return notes


def _refused(message: str) -> NormsError:
    return NormsError(message, code="coaching_notes")
