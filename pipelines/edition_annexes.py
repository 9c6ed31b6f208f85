"""What stands beside an edition's bands, built from a store and its labs' own noise."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from norms.cohort.annexes import NOISE_ASSUMED, NOISE_CM, AnnexChoices, with_annexes
from norms.cohort.club_centiles import club_handicaps
from norms.cohort.pattern_annexes import with_shapes
from norms.cohort.pattern_search import PatternChoices
from norms.cohort.roll import call_roll
from norms.placement.pattern_names import plain_name
from norms.records import Edition, Exclusion, SwingPool, SwingQuality
from norms.swing.catalogue import CATALOGUE
from pipelines.settings import levels_of
from pipelines.store import Store

TIMING_FEATURES: Final = tuple(
    info.name for info in CATALOGUE if info.axis == "time" or info.unit in ("s", "pct")
)


def add_annexes(
    store: Store, edition: Edition, pool: SwingPool, exclusions: Sequence[Exclusion]
) -> Edition:
    """The edition with whole-curve bands, screening, partitions, centiles, grades and shapes.

    Patterns keep the keys and names that they had in the newest earlier edition.

    Parameters
    ----------
    store : Store
    edition : Edition
        Built from the same pool and exclusions.
    pool : SwingPool
    exclusions : sequence of Exclusion
    """
    golfers = store.golfers()
    roll = call_roll(pool, golfers, levels_of(store), exclusions)
    edition = with_annexes(edition, roll, golfers, annex_choices(store.swing_qualities(), pool))
    handicaps = {club: club_handicaps(roll, club) for club in sorted(set(roll.clubs.tolist()))}
    previous = newest_edition(store, edition.name)
    return with_shapes(edition, roll, handicaps, plain_name, PatternChoices(), previous)


def newest_edition(store: Store, name: str) -> Edition | None:
    """The academy's newest edition from before the one of a name."""
    names = store.edition_names()
    # Building a name again must look back to the same edition as the first time.
    earlier = names[: names.index(name)] if name in names else names
    # Another academy's patterns are no forerunners of ours.
    own = (one for before in reversed(earlier) if not (one := store.edition(before)).imported)
    return next(own, None)


def annex_choices(qualities: Sequence[SwingQuality], pool: SwingPool) -> AnnexChoices:
    """Choices with the labs' noise: what the filter leaves of it, and never less than usual.

    The former is the root mean square over the pool's swings and the axes.
    """
    inside = set(pool.swings)
    stated = [
        one.filtering.position_sd_cm
        for one in qualities
        if one.swing in inside and one.filtering is not None
    ]
    left_cm = float(np.sqrt(np.mean(np.square(stated)))) if stated else 0.0
    said = f"the filter leaves {left_cm:.3f} cm in a position ({len(stated):,} swings)"
    if left_cm > NOISE_CM:
        return AnnexChoices(noise_cm=left_cm, noise_source=said, timing_features=TIMING_FEATURES)
    source = f"{NOISE_ASSUMED}; {said}" if stated else NOISE_ASSUMED
    return AnnexChoices(noise_source=source, timing_features=TIMING_FEATURES)
