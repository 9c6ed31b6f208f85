"""Verifies another academy's edition on the store's own golfers, group by group."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from norms.cohort.adopt import FALSE_REFUSAL_RATE, JUDGED_FEATURES, Adoption, verify_cell
from norms.cohort.levels import levels_in
from norms.cohort.members import members
from norms.cohort.roll import call_roll
from norms.errors import CohortRefused
from norms.records import Edition, Exclusion
from norms.records.edition import VERIFIED
from pipelines.audit import edition_said
from pipelines.import_edition import import_edition, read_edition
from pipelines.lab_standing import lab_standing
from pipelines.roles import NOT_STATED
from pipelines.store import Store


def adopt_edition(
    store: Store,
    folder: Path,
    cohorts: Sequence[str],
    *,
    exclusions: Sequence[Exclusion],
    name: str | None = None,
    features: Sequence[str] = JUDGED_FEATURES,
    false_refusal_rate: float = FALSE_REFUSAL_RATE,
    seed: int = 0,
    who: str = NOT_STATED,
) -> tuple[Edition, tuple[Adoption, ...]]:
    """Say of groups of an exported edition whether they hold for local golfers.

    The edition is taken into the store, under a name of its own, where at least one group is
    accepted; nothing is kept of one that is not. Where the store has it, from now or from before,
    every verdict is kept with it, for placements to say.

    Parameters
    ----------
    store : Store
        Open for writing.
    folder : Path
        As `export_edition` writes it.
    cohorts : sequence of str
        Keys of the groups to verify, each on about 20 local golfers of the same definition.
    exclusions : sequence of Exclusion
        Local golfers and swings that a person decided to leave out.
    name : str, optional
        Name to keep the edition under; its own by default.
    features : sequence of str
        Judged features, chosen before looking.
    false_refusal_rate : float
        Chance of refusing a group whose norms hold.
    seed : int
        Of the simulations behind p values and error rates.
    who : str
        Role, for the log.

    Raises
    ------
    CohortRefused
        If the export is damaged, has no such group, or too few local golfers are at hand.
    StoreRefused
        If the name is taken by an edition with other numbers.
    """
    edition = read_edition(folder, name)
    pool = lab_standing(store, hold=False).norms_pool
    # The edition's own table of levels, which need not be the store's.
    roll = call_roll(pool, store.golfers(), levels_in(edition), exclusions)
    verdicts = []
    for place, key in enumerate(cohorts):
        cell = edition.cell(key)
        if cell is None:
            keys = ", ".join(one.cohort.definition.key for one in edition.cells)
            raise CohortRefused(
                f"edition {edition.name} has no group {key!r}; it has {keys}",
                code="unknown_cohort",
            )
        local, _ = members(roll, cell.cohort.definition)
        verdicts.append(
            verify_cell(
                cell,
                local,
                np.random.default_rng([seed, place]),
                features=features,
                false_refusal_rate=false_refusal_rate,
            )
        )
    if any(verdict.verdict == "accept" for verdict in verdicts):
        import_edition(store, folder, name, who=who)
    _keep_verdicts(store, edition, verdicts, who)
    return edition, tuple(verdicts)


def _keep_verdicts(store: Store, edition: Edition, verdicts: Sequence[Adoption], who: str) -> None:
    """Keep the newest verdict on each group with the edition, where it is in the store."""
    if edition.name not in store.edition_names():
        return
    kept = store.edition(edition.name)
    if not kept.imported or kept.content_hash != edition.content_hash:
        return
    known: Any = kept.evidence.get(VERIFIED, {})
    today = datetime.now(UTC).date().isoformat()
    new = {
        one.cohort_key: {
            "day": today,
            "verdict": one.verdict,
            "local_golfers": one.local_golfers,
            "refused_by": list(one.refused_by),
        }
        for one in verdicts
    }
    with store.act("adopt", who=who, details=edition_said(edition)):
        store.put_edition_evidence(edition.name, VERIFIED, {**known, **new})
