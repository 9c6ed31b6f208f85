"""What a draft is made of."""

from dataclasses import dataclass
from typing import Literal

Sure = Literal["sure", "likely", "unsure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One line of a drafted profile.

    Attributes
    ----------
    section : str
        Section of the TOML file, e.g. ``"points"``.
    line : str
        The line itself, e.g. ``left_asis = "LASI"``.
    sure : {"sure", "likely", "unsure"}
        ``"sure"``: the file says it, or two kinds of evidence agree. ``"likely"``: one kind says
        it clearly. ``"unsure"``: to be decided by a person; commented out in the draft.
    evidence : str
        One sentence.
    """

    section: str
    line: str
    sure: Sure
    evidence: str
