"""The shapes frozen in an edition, read and applied to newcomers; nothing is fitted here."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from norms.records import Annex, Edition
from norms.records.annex import AnnexKind
from norms.records.components import Components
from norms.records.patterns import Patterns, Typicality
from norms.records.plain import put_together
from norms.statistics.mixtures import GaussianMixture

Found = TypeVar("Found")

NONE_FITS: Final = 0.05
"""Share of golfers of the cohort's kind to whom it is said, wrongly, that no pattern fits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenShapes:
    """What an edition knows of the shapes of swings, ready to be applied to newcomers.

    Attributes
    ----------
    components : Mapping of str to Components
        By club.
    patterns : Mapping of str to Patterns
        By club.
    typicality : Mapping of str to Typicality
        By cohort key.
    """

    components: Mapping[str, Components]
    patterns: Mapping[str, Patterns]
    typicality: Mapping[str, Typicality]


def frozen_shapes(edition: Edition) -> FrozenShapes:
    """Components, patterns and typicality of an edition; empty where it was built without."""
    return FrozenShapes(
        components=_found(edition.annexes, "components", Components),
        patterns=_found(edition.annexes, "patterns", Patterns),
        typicality=_found(edition.annexes, "typicality", Typicality),
    )


def mixture_of(patterns: Patterns) -> GaussianMixture:
    """The frozen mixture, to be applied to a newcomer."""
    return GaussianMixture(
        family=patterns.family,
        weights=patterns.weights,
        means=patterns.means,
        covariances=patterns.covariances,
        log_likelihood=float("nan"),
        parameters=0,
        rows=patterns.golfers,
    )


def _found(annexes: Sequence[Annex], kind: AnnexKind, record: type[Found]) -> dict[str, Found]:
    return {
        annex.subject: put_together(record, annex.document, annex.arrays)
        for annex in annexes
        if annex.kind == kind and annex.withheld is None
    }
