"""The shapes frozen in an edition, read and applied to newcomers; nothing is fitted here."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from norms.cohort.annex_contents import findings_of
from norms.records import Edition
from norms.records.components import Components
from norms.records.patterns import Patterns, Typicality
from norms.statistics.mixtures import GaussianMixture

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
        components=findings_of(edition, "components", Components),
        patterns=findings_of(edition, "patterns", Patterns),
        typicality=findings_of(edition, "typicality", Typicality),
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
