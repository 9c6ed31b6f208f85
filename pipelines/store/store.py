"""The store as the rest of the program sees it: records in, records out."""

import json
from collections.abc import Sequence
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import UTC, datetime
from types import TracebackType
from typing import Self, Unpack

from norms.records import (
    BallSpeed,
    Edition,
    EventCorrection,
    Exclusion,
    FileOutcome,
    Golfer,
    SessionHold,
    SessionRelease,
    Swing,
    SwingPool,
    SwingQuality,
)
from norms.records.decided_exclusion import DecidedExclusion
from pipelines.store import editions, event_corrections, exclusions, labs, roster, swings
from pipelines.store.act import Act, ActOptions
from pipelines.store.care import CareMethods
from pipelines.store.database import Database
from pipelines.store.door import Door
from pipelines.store.golfer_shelf import GolferShelf
from pipelines.store.placements import PlacementShelf
from pipelines.store.standards import StandardShelf
from pipelines.store.studies import StudyMethods


class Store(StudyMethods, CareMethods):
    """An open store; made by ``open_store`` and closed at the end of its ``with`` block.

    Every method that writes does so in one transaction: killed in the middle, it leaves the
    store as it was. Records come back as they went in, except that curves are kept in single
    precision (rounded by at most 2e-6 cm below 64 cm); editions are kept exactly.

    Parameters
    ----------
    database : Database
    path : str
        Name of the store for messages.
    """

    def __init__(self, database: Database, path: str) -> None:
        self._database = database
        self.path = path

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give the store free for other processes."""
        self._database.close()

    def act(self, action: str, **options: Unpack[ActOptions]) -> AbstractContextManager[Act]:
        """Everything written inside is one act: kept with its line in the log, or not at all.

        Parameters
        ----------
        action : str
            What is done, in a word or two.
        **options
            Of `Act`: who, why, golfer, details, can_undo, silent_unchanged, swings.
        """
        return self._database.act(Act(action=action, **options))

    @property
    def standards(self) -> StandardShelf:
        """Standards, the decisions on them, and reviews against them."""
        return StandardShelf(self._database)

    @property
    def placements(self) -> PlacementShelf:
        """Placements of golfers, and the verdicts on them."""
        return PlacementShelf(self._database)

    @property
    def golfer_shelf(self) -> GolferShelf:
        """Event marks of single golfers, and swings read together."""
        return GolferShelf(self._database)

    @property
    def door(self) -> Door:
        """What newcomers are held against before they are let in."""
        return Door(self._database)

    # Golfers

    def add_golfers(self, golfers: Sequence[Golfer]) -> None:
        """Add golfers; one already stored is replaced, with all of their handicaps."""
        roster.add_golfers(self._database, golfers)

    def golfers(self) -> dict[str, Golfer]:
        """Every golfer by code, in order of code."""
        return roster.golfers(self._database)

    def golfer(self, code: str) -> Golfer | None:
        """One golfer, or None where the roster does not hold the code."""
        return self.golfers().get(code)

    def add_ball_speeds(self, speeds: Sequence[BallSpeed]) -> None:
        """Add ball speeds; that of a swing already measured is replaced."""
        roster.add_ball_speeds(self._database, speeds)

    def ball_speeds(self) -> dict[str, BallSpeed]:
        """Every ball speed by swing code; the swing itself need not be stored."""
        return roster.ball_speeds(self._database)

    # Collecting

    def begin_run(self, lab: str, started_at: datetime) -> int:
        """Note that a collecting run begins, and return its number.

        A time without a zone is local time, as Python has it; the store keeps UTC.
        """
        run: int = self._database.rows("begin_run", (lab, _utc(started_at)))[0][0]
        return run

    def finish_run(self, run: int) -> None:
        """Note that a run came to its end; one without an end was interrupted."""
        self._database.rows("finish_run", (_utc(datetime.now(UTC)), run))

    def add_swings(
        self, swings_to_add: Sequence[Swing], outcomes: Sequence[FileOutcome], run: int
    ) -> None:
        """Store swings and the outcomes of their files in one transaction.

        Raises
        ------
        StoreRefused
            ``golfer_unknown``, ``not_finite``, or ``store_conflict`` for a swing code or a
            content hash that the store already holds; nothing of the batch is then kept.
        """
        swings.add_swings(self._database, swings_to_add, outcomes, run)

    def outcomes(self, run: int | None = None) -> list[FileOutcome]:
        """Outcomes of one run, or of every run, in the order they were given."""
        return swings.outcomes(self._database, run)

    # A person's corrections of events

    def correct_swing(
        self, swing: Swing, corrections: Sequence[EventCorrection], corrected_at: datetime
    ) -> None:
        """Keep corrections and the swing as it is after them, in one transaction.

        A swing already stored from the same file is replaced, any other is added.

        Raises
        ------
        StoreRefused
            ``golfer_unknown``, ``not_finite``, or ``store_conflict`` where the swing's code is
            stored from another file.
        """
        event_corrections.correct_swing(self._database, swing, corrections, _utc(corrected_at))

    def event_corrections(self, content_hash: str) -> tuple[EventCorrection, ...]:
        """Every correction of the events of one file, in the order they were made."""
        return event_corrections.event_corrections(self._database, content_hash)

    def every_event_correction(self) -> dict[str, tuple[EventCorrection, ...]]:
        """Every correction by the content hash of its file, each file's in the order of making."""
        return event_corrections.every_event_correction(self._database)

    # Swings

    def content_hashes(self) -> dict[str, str]:
        """Swing code by content hash of the file it came from."""
        return dict(self._database.rows("content_hashes"))

    def swing_codes(self) -> set[str]:
        """Codes of every stored swing."""
        return set(self.content_hashes().values())

    def swing(self, code: str) -> Swing:
        """One swing.

        Raises
        ------
        StoreRefused
            ``swing_unknown``.
        """
        return swings.swing(self._database, code)

    def swing_pool(self) -> SwingPool:
        """Every swing as arrays, in order of swing code, with the catalogue's features."""
        return swings.swing_pool(self._database)

    # Labs in control

    def swing_qualities(self) -> list[SwingQuality]:
        """How every stored swing was measured, by lab, day and code."""
        return labs.swing_qualities(self._database)

    def hold_sessions(self, holds: Sequence[SessionHold]) -> None:
        """Hold sessions back from norms; one held before keeps its first reason."""
        labs.hold_sessions(
            self._database, [replace(hold, held_at=_utc(hold.held_at)) for hold in holds]
        )

    def release_session(self, release: SessionRelease) -> None:
        """Keep a person's word that a held session may enter norms; it is never held again.

        Raises
        ------
        StoreRefused
            ``session_not_held`` or ``session_released``.
        """
        labs.release_session(
            self._database, replace(release, released_at=_utc(release.released_at))
        )

    def session_holds(self) -> list[SessionHold]:
        """Every session ever held back, released or not, by lab and day."""
        return labs.session_holds(self._database)

    def session_releases(self) -> list[SessionRelease]:
        """Every release of a session, by lab and day."""
        return labs.session_releases(self._database)

    # Exclusions

    def add_exclusion(self, exclusion: Exclusion, decided_at: datetime) -> None:
        """Keep a person's decision to leave a golfer or a swing out of norms.

        Raises
        ------
        StoreRefused
            ``already_excluded``.
        """
        exclusions.add_exclusion(self._database, exclusion, _utc(decided_at))

    def withdraw_exclusion(
        self,
        *,
        golfer: str | None,
        swing: str | None,
        reason: str,
        decided_by: str,
        decided_at: datetime,
    ) -> None:
        """End a decision that stands; it is kept, with who ended it and why.

        Raises
        ------
        StoreRefused
            ``not_excluded``.
        """
        exclusions.withdraw_exclusion(
            self._database,
            golfer=golfer,
            swing=swing,
            reason=reason,
            decided_by=decided_by,
            decided_at=_utc(decided_at),
        )

    def exclusions(self) -> list[DecidedExclusion]:
        """Every decision in the order they were taken, withdrawn ones too."""
        return exclusions.exclusions(self._database)

    # Editions

    def save_edition(self, edition: Edition, built_at: datetime) -> None:
        """Keep an edition; the same name with the same content hash changes nothing.

        Raises
        ------
        StoreRefused
            ``edition_exists`` where the name is taken by other numbers.
        """
        editions.save_edition(self._database, edition, _utc(built_at))

    def edition(self, name: str) -> Edition:
        """One edition, every number as it was saved.

        Raises
        ------
        StoreRefused
            ``edition_unknown``.
        """
        return editions.edition(self._database, name)

    def put_edition_evidence(self, name: str, kind: str, document: object) -> None:
        """Keep what explains an edition, in place of what stood there of this kind."""
        editions.put_evidence(self._database, name, kind, document)

    def edition_names(self) -> list[str]:
        """Names of the editions, oldest first."""
        return [name for (name,) in self._database.rows("edition_names")]

    # Settings

    def setting(self, key: str) -> object | None:
        """Value of a setting, or None where it was never set."""
        found = self._database.rows("setting", (key,))
        return json.loads(found[0][0]) if found else None

    def set_setting(self, key: str, value: object) -> None:
        """Keep a setting; any value that JSON can carry."""
        self._database.rows("set_setting", (key, json.dumps(value, allow_nan=False)))


def _utc(moment: datetime) -> datetime:
    """Time as the store keeps it: UTC, and no zone attached."""
    return moment.astimezone(UTC).replace(tzinfo=None)
