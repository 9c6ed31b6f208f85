"""Standards in the store, verified on the way out, and reviews against them."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from norms.errors import StandardRefused, StoreRefused
from norms.records import FloatArray
from norms.records.standard import Decision, GolferVerdict, Quantity, ReviewSwings, Standard
from norms.standards.document import (
    decision_hash,
    standard_text,
    text_hash,
    verdict_document,
    verdict_of,
    verify_text,
)
from norms.standards.life import state_of
from norms.vocabulary import NODES
from pipelines.store.act import Act
from pipelines.store.arrays import rows_of
from pipelines.store.database import Database

if TYPE_CHECKING:
    import pyarrow as pa


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptStandard:
    """A standard and everything that was decided on it, oldest first."""

    standard: Standard
    decisions: tuple[Decision, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptReview:
    """An earlier review: its day and the verdict of each golfer."""

    held_on: date
    verdicts: dict[str, GolferVerdict]


class StandardShelf:
    """The standards of a store; every method that writes does so in one transaction."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def names(self) -> list[str]:
        """Names of the standards, in order."""
        return [name for (name,) in self._database.rows("standard_names")]

    def standard(self, name: str) -> KeptStandard:
        """One standard, verified to the byte, with its decisions.

        Raises
        ------
        StoreRefused
            ``standard_unknown``.
        StandardRefused
            ``standard_changed`` where the text or a decision is not what was kept.
        """
        found = self._database.rows("standard", (name,))
        if not found:
            known = ", ".join(self.names()) or "none"
            raise StoreRefused(
                f"standard {name}: is not in the store, which has {known}", code="standard_unknown"
            )
        text, stated_hash = found[0]
        standard = verify_text(name, text, stated_hash)
        decisions = self.decisions(name)
        if decisions and decisions[-1].standard_hash != stated_hash:
            raise StandardRefused(
                f"standard {name}: its text is not the one that was decided on; restore the store "
                "from a copy",
                code="standard_changed",
            )
        return KeptStandard(standard=standard, decisions=decisions)

    def decisions(self, name: str) -> tuple[Decision, ...]:
        """Every decision on a standard, oldest first, verified; empty for an unknown one."""
        decisions: list[Decision] = []
        before = ""
        for *fields, override, stated in self._database.rows("standard_decisions", (name,)):
            state, role, reason, decided_on, standard_hash, edition_hash = fields
            decision = Decision(
                state=state,
                role=role,
                reason=reason,
                decided_on=decided_on,
                standard_hash=standard_hash,
                edition_hash=edition_hash,
                override=override,
            )
            before = decision_hash(name, decision, before)
            if before != stated:
                raise StandardRefused(
                    f"standard {name}: decision {len(decisions) + 1} was changed after it was "
                    "signed; restore the store from a copy",
                    code="standard_changed",
                )
            decisions.append(decision)
        return tuple(decisions)

    def submit(self, standard: Standard, decision: Decision) -> None:
        """Put a standard up for review, in place of an earlier text of it.

        Raises
        ------
        StoreRefused
            ``standard_frozen`` where it was approved or retired.
        """
        decisions = self.decisions(standard.name)
        if state_of(decisions) not in (None, "in review"):
            raise StoreRefused(
                f"standard {standard.name}: is {state_of(decisions)} and never changes again",
                code="standard_frozen",
            )
        text = standard_text(standard)
        with self._database.act(_act(decision)) as act:
            self._database.rows(
                "put_standard",
                (
                    standard.name,
                    text,
                    text_hash(text),
                    standard.edition,
                    standard.edition_hash,
                ),
            )
            act.say(**self._add(standard.name, decision, decisions))

    def decide(self, name: str, decision: Decision) -> None:
        """Keep a decision on a standard that is in the store."""
        decisions = self.standard(name).decisions
        with self._database.act(_act(decision)) as act:
            act.say(**self._add(name, decision, decisions))

    def _add(
        self, name: str, decision: Decision, decisions: Sequence[Decision]
    ) -> dict[str, object]:
        """Keep a decision, and return what the log says of it; inside the act."""
        before = ""
        for one in (*decisions, decision):
            before = decision_hash(name, one, before)
        self._database.rows(
            "add_standard_decision",
            (
                name,
                decision.state,
                decision.role,
                decision.reason,
                decision.decided_on,
                decision.standard_hash,
                decision.edition_hash,
                decision.override,
                before,
            ),
        )
        return {
            "standard": name,
            "standard_hash": decision.standard_hash,
            "edition_hash": decision.edition_hash,
            "decision_hash": before,
        }

    # Reviews

    def keep_review(
        self,
        standard: Standard,
        standard_hash: str,
        held_on: date,
        verdicts: Sequence[GolferVerdict],
    ) -> None:
        """Keep a review, so that the next one can say what has changed."""
        import pyarrow as pa

        with self._database.transaction():
            number = self._database.rows(
                "add_standard_review",
                (
                    standard.name,
                    standard_hash,
                    standard.edition,
                    standard.edition_hash,
                    held_on,
                ),
            )[0][0]
            if verdicts:
                rows = [
                    {
                        "review": number,
                        "golfer": one.golfer,
                        "payload": json.dumps(verdict_document(one), allow_nan=False),
                    }
                    for one in verdicts
                ]
                self._database.take_in("add_standard_review_golfers", pa.Table.from_pylist(rows))

    def last_review(self, name: str, standard_hash: str, before: date) -> KeptReview | None:
        """The newest kept review against this very standard before a day."""
        found = self._database.rows("last_standard_review", (name, standard_hash, before))
        if not found:
            return None
        number, held_on = found[0]
        told = [
            verdict_of(json.loads(payload))
            for (payload,) in self._database.rows("standard_review_golfers", (number,))
        ]
        return KeptReview(held_on=held_on, verdicts={one.golfer: one for one in told})

    # Swings of a review

    def review_swings(self, club: str, quantities: Sequence[Quantity]) -> ReviewSwings:
        """Every swing of a club with the quantities of a standard; no more is read than asked."""
        table = self._database.arrow("review_swings", (club,))
        values = np.full((table.num_rows, len(quantities)), np.nan)
        features = [one.feature for one in quantities if one.feature is not None]
        if features:
            self._fill_features(club, table, features, quantities, values)
        for axis in dict.fromkeys(one.axis for one in quantities if one.axis is not None):
            self._fill_stretches(club, table, axis, quantities, values)
        return ReviewSwings(
            swings=tuple(table["code"].to_pylist()),
            golfers=tuple(table["golfer"].to_pylist()),
            labs=tuple(table["lab"].to_pylist()),
            recorded_on=tuple(table["recorded_on"].to_pylist()),
            values=values,
        )

    def _fill_features(
        self,
        club: str,
        table: "pa.Table",
        features: Sequence[str],
        quantities: Sequence[Quantity],
        values: FloatArray,
    ) -> None:
        import pyarrow as pa
        import pyarrow.compute as pc

        long = self._database.arrow("review_features", (features, club))
        keys = pa.array([one.feature or "" for one in quantities])
        row = pc.index_in(long["swing"], value_set=table["code"].combine_chunks()).to_numpy()
        column = pc.index_in(long["feature"], value_set=keys).to_numpy()
        values[row, column] = long["value"].to_numpy()

    def _fill_stretches(
        self,
        club: str,
        table: "pa.Table",
        axis: str,
        quantities: Sequence[Quantity],
        values: FloatArray,
    ) -> None:
        import pyarrow.compute as pc

        curves = self._database.arrow(f"review_{axis}", (club,))
        codes = table["code"].combine_chunks()
        row = pc.index_in(curves["code"], value_set=codes).to_numpy()
        nodes = rows_of(curves, f"{axis}_cm", NODES)
        for place, one in enumerate(quantities):
            if one.axis == axis:
                part = nodes[:, one.first_node : one.last_node + 1]
                values[row, place] = part.mean(axis=1, dtype=np.float64)


def _act(decision: Decision) -> Act:
    return Act(action=f"standard {decision.state}", who=decision.role, why=decision.reason)
