"""An annex: what an edition holds beside its bands, in a form that a store and a file can keep."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, get_args

import numpy as np

from norms.records._arrays import FloatArray, set_field

AnnexKind = Literal[
    "whole_curve",
    "screening",
    "partition",
    "centiles",
    "sufficiency",
    "components",
    "patterns",
    "typicality",
    "noise",
    "lab_terms",
    "weighting",
]
ANNEX_KINDS: Final[tuple[AnnexKind, ...]] = get_args(AnnexKind)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Annex:
    """One finding of an edition, under its content hash like the bands.

    No golfer is named in an annex, so that an edition may leave the academy with all of them.

    Attributes
    ----------
    kind : {"whole_curve", "screening", "partition", "centiles", "sufficiency", "components", \
"patterns", "typicality", "noise", "lab_terms", "weighting"}
    subject : str
        Cohort key, club or question; unique among the annexes of its kind.
    withheld : str or None
        Why there is no finding, in one sentence; document and arrays are then empty.
    document : Mapping of str to plain JSON values
    arrays : Mapping of str to ndarray
        Exact doubles, named by their place in the record they come from.
    """

    kind: AnnexKind
    subject: str
    withheld: str | None = None
    document: Mapping[str, object] = field(default_factory=dict)
    arrays: Mapping[str, FloatArray] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.kind not in ANNEX_KINDS:
            raise ValueError(f"kind: {self.kind!r} where one of {ANNEX_KINDS} is needed")
        # Through text and back, so that a fresh annex and one from a store hold the same values.
        plain = json.loads(json.dumps(dict(self.document), allow_nan=False))
        set_field(self, "document", plain)
        frozen = {}
        for name, values in self.arrays.items():
            frozen[name] = np.array(values, dtype=np.float64)
            frozen[name].flags.writeable = False
        set_field(self, "arrays", frozen)
