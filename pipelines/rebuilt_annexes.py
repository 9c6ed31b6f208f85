"""Frozen editions without a golfer who is erased, with what stands beside their bands.

Bands need golfers' means alone, which the edition keeps. Centiles, components, patterns and the
rest need the swings and the facts that it was built from; they are computed anew where the store
still gives, golfer by golfer, the means that were frozen, and left out where it does not.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any, Final

import numpy as np

from norms.cohort.annexes import AnnexChoices, with_annexes
from norms.cohort.club_centiles import club_handicaps
from norms.cohort.edition import amended
from norms.cohort.lab_admission import pool_rows
from norms.cohort.levels import levels_in
from norms.cohort.members import members
from norms.cohort.pattern_annexes import with_shapes
from norms.cohort.pattern_search import PatternChoices
from norms.cohort.roll import Roll, call_roll
from norms.cohort.without_golfer import ANNEXES, edition_without, withdrawn_edition
from norms.errors import CohortRefused
from norms.placement.pattern_names import plain_name
from norms.records import Cohort, Edition, Exclusion, Golfer, SwingPool
from pipelines.edition_annexes import newest_edition
from pipelines.lab_standing import lab_standing
from pipelines.store import Store

SHAPES: Final = "patterns"
"""Parameter of an edition that has components, patterns and typicality among its annexes."""


def editions_without(
    store: Store, golfer: str, policy: str
) -> tuple[list[tuple[Edition, Edition]], dict[str, str]]:
    """Editions that counted the golfer, before and after; by name, why annexes could not be had."""
    counting = set(store.erasures.editions_counting(golfer))
    editions = [store.edition(name) for name in store.edition_names() if name in counting]
    if policy != "recompute":
        return [(one, withdrawn_edition(one, golfer)) for one in editions], {}
    pairs: dict[str, tuple[Edition, Edition]] = {}
    lost = {}
    pool = None
    for before in editions:
        pairs[before.name] = both = before, edition_without(before, golfer)
        if ANNEXES not in before.parameters:
            continue
        previous = newest_edition(store, before.name)
        if previous is not None and previous.name in pairs:
            previous = pairs[previous.name][1]
        pool = pool or lab_standing(store, hold=False).norms_pool
        after, why_not = with_rebuilt_annexes(store, pool, both, golfer, previous)
        pairs[before.name] = before, after
        if why_not:
            lost[before.name] = why_not
    return list(pairs.values()), lost


def with_rebuilt_annexes(
    store: Store,
    pool: SwingPool,
    editions: tuple[Edition, Edition],
    golfer: str,
    previous: Edition | None,
) -> tuple[Edition, str]:
    """An edition without a golfer, with its annexes; or as it is, and why they cannot be had.

    Parameters
    ----------
    store : Store
        Which still holds the golfer.
    pool : SwingPool
        The swings that may enter norms, in the terms of the reference labs.
    editions : (Edition, Edition)
        With the golfer and with annexes; and its bands computed anew without.
    golfer : str
    previous : Edition or None
        The newest earlier edition, for the names of patterns.

    Returns
    -------
    edition : Edition
    why_not : str
        Empty where the edition has them again.
    """
    before, after = editions
    try:
        pool, exclusions = _as_frozen(store, pool, store.erasures.built_at(before.name))
        golfers, levels = store.golfers(), levels_in(before)
        if moved := _moved(before, call_roll(pool, golfers, levels, exclusions)):
            return after, f"its swings or its roster are not those it was frozen with ({moved})"
        rest = pool_rows(pool, np.array([code != golfer for code in pool.golfers], dtype=bool))
        if not rest.swings:
            return after, "nobody else is in it"
        others = {code: one for code, one in golfers.items() if code != golfer}
        roll = call_roll(rest, others, levels, exclusions)
        return _with_annexes(before, after, roll, others, previous), ""
    except CohortRefused as refusal:
        return after, refusal.message


def _as_frozen(
    store: Store, pool: SwingPool, built_at: datetime
) -> tuple[SwingPool, tuple[Exclusion, ...]]:
    """Swings collected before an edition was frozen, and what was left out at that moment."""
    later = store.erasures.swings_collected_after(built_at)
    pool = pool_rows(pool, np.array([code not in later for code in pool.swings], dtype=bool))
    exclusions = tuple(
        one.exclusion
        for one in store.exclusions()
        if one.decided_at <= built_at and (one.withdrawn_at is None or one.withdrawn_at > built_at)
    )
    return pool, exclusions


def _moved(edition: Edition, roll: Roll) -> str:
    """Key of the first cell whose golfers or means the roll does not give again; else empty."""
    for cell in edition.cells:
        now, _ = members(roll, cell.cohort.definition)
        if not _same(cell.cohort, now):
            return cell.cohort.definition.key
    return ""


def _same(one: Cohort, other: Cohort) -> bool:
    """Whether two cohorts are the same golfers with the same means, to what addition rounds."""
    return (
        one.golfers == other.golfers
        and one.feature_names == other.feature_names
        and np.array_equal(one.swing_counts, other.swing_counts)
        and np.allclose(one.curves_cm, other.curves_cm, rtol=0.0, atol=1e-9)
        and np.allclose(one.features, other.features, rtol=1e-9, atol=1e-9, equal_nan=True)
    )


def _with_annexes(
    before: Edition,
    after: Edition,
    roll: Roll,
    golfers: Mapping[str, Golfer],
    previous: Edition | None,
) -> Edition:
    """By the choices that the edition states."""
    stated: Mapping[str, Any] = before.parameters
    choices = dict(stated[ANNEXES])
    choices["timing_features"] = tuple(choices["timing_features"])
    kept = after.annexes  # of measurement
    # Annexes ask of golfers what an edition does not keep: how much their swings differ.
    gathered = replace(
        after,
        cells=tuple(
            replace(cell, cohort=members(roll, cell.cohort.definition)[0]) for cell in after.cells
        ),
    )
    made = with_annexes(amended(gathered, annexes=()), roll, golfers, AnnexChoices(**choices))
    if SHAPES in stated:
        clubs = sorted(set(roll.clubs.tolist()))
        handicaps = {club: club_handicaps(roll, club) for club in clubs}
        search = PatternChoices(**stated[SHAPES])
        made = with_shapes(made, roll, handicaps, plain_name, search, previous)
    return amended(replace(made, cells=after.cells), annexes=(*made.annexes, *kept))
