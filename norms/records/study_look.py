"""Where a study stands among everything that was asked of its cohort."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One look at a cohort: a study that was run, or a frame that was taken out.

    Attributes
    ----------
    number, of : int
        "Look 7 of 12", counted by cohort in the order of looking.
    kind : {"study", "export"}
    study, question : str
    tests : int or None
        Tests that were run; None for a frame taken out, of which nobody knows.
    tests_before : int
        Tests that earlier looks at the same cohort ran.
    frames_before : int
        Frames of the same cohort taken out before.
    looked_at : str
        Day and time, UTC.
    declared_at : str or None
        When the plan was declared before it was run; None where it was not.
    """

    number: int
    of: int
    kind: Literal["study", "export"]
    study: str
    question: str
    tests: int | None
    tests_before: int
    frames_before: int
    looked_at: str
    declared_at: str | None = None
