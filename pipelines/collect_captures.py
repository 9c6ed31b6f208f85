"""The collecting job: capture files in, swings and the outcome of every file into the store."""

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Final

from norms.errors import CaptureRefused, NormsError, StoreRefused
from norms.records import EventCorrection, FileOutcome, Golfer, Swing
from norms.vocabulary import Hand
from pipelines.audit import collected
from pipelines.collect.file_name import GivenLabel, label_file, refuse_before_birth
from pipelines.collect.file_work import FileWork
from pipelines.collect.profile import Profile
from pipelines.collect.readers import SUFFIXES
from pipelines.collect.shield import WorkerPool
from pipelines.consents import may_be_measured
from pipelines.known_clubs import KnownClubs
from pipelines.roles import NOT_STATED
from pipelines.store import Store

BATCH: Final = 200
"""Files written in one transaction: the most that an interruption can lose."""
REPLACED: Final = "replaced"
"""Code of a file that took the place of a stored swing."""
OF_ONE_SWING: Final = frozenset({"not_finite", "store_conflict", "golfer_unknown"})
"""The store's refusals that concern one swing, so that the rest of its batch can be kept."""


def collect_captures(
    paths: Sequence[Path],
    store: Store,
    profile: Profile,
    *,
    golfer: str | None = None,
    club: str | None = None,
    recorded_on: date | None = None,
    hand: Hand | None = None,
    new_clubs: Sequence[str] = (),
    workers: int = 2,
    progress: Callable[[int, int], None] | None = None,
    replace_stored: bool = False,
    who: str = NOT_STATED,
    why: str = "",
) -> list[FileOutcome]:
    """Read captures of one lab into the store.

    Parameters
    ----------
    paths : sequence of Path
        Files, and folders of which every file of a known format is taken, in order of name.
    store : Store
        Open for writing, its roster filled.
    profile : Profile
    golfer, club, recorded_on, hand : optional
        Stated for every file, in place of what its name and the roster say.
    new_clubs : sequence of str
        Clubs to let in that neither the store's swings nor the academy's list have.
    workers : int
        Processes that read files.
    progress : callable, optional
        Called with the number of files done and of all files.
    replace_stored : bool
        Whether a file with other content takes the place of the swing that has its code: a
        capture that was exported anew. What the swing was is kept, and undoing brings it back.
    who, why : str
        Role and reason, for the log.

    Returns
    -------
    list of FileOutcome
        One for each file, in order. The files are written to the store in batches, each in one
        transaction together with its outcomes: interrupted, the run can simply be repeated.

    Raises
    ------
    StoreRefused
        If the store itself cannot be written to; never for a fault of a file.
    """
    files = expand_paths(paths)
    by_hash = store.content_hashes()
    run = _Run(
        store=store,
        profile=profile,
        given=GivenLabel(golfer=golfer, club=club, recorded_on=recorded_on),
        hand=hand,
        golfers=store.golfers(),
        clubs=KnownClubs.of(store, new_clubs),
        measured=frozenset(may_be_measured(store)),
        by_hash=by_hash,
        codes=set(by_hash.values()),
        corrections=store.every_event_correction(),
        number=store.begin_run(profile.lab.name, datetime.now(UTC)),
        replace_stored=replace_stored,
        who=who,
        why=why,
    )
    with WorkerPool(profile, workers=workers) as pool:
        try:
            for item, result in pool.run(run.prepared(files)):
                run.settle(item, result)
                if progress is not None:
                    progress(len(run.outcomes) + len(run.waiting), len(files))
        except KeyboardInterrupt:
            run.write()  # what is finished is not thrown away
            raise
    run.write()
    store.finish_run(run.number)
    return run.outcomes


def expand_paths(paths: Sequence[Path]) -> list[Path]:
    """Files as they are, and for a folder all files of a known format in it, in order of name."""
    files: list[Path] = []
    for path in paths:
        if path.is_dir():
            found = (entry for entry in path.rglob("*") if entry.suffix.lower() in SUFFIXES)
            files.extend(sorted(entry for entry in found if entry.is_file()))
        else:
            files.append(path)
    return files


def not_looked_at(paths: Sequence[Path]) -> list[Path]:
    """What `expand_paths` leaves alone in folders: of an unknown format, no file, or a link."""
    inside = (
        entry
        for path in paths
        if path.is_dir()
        for entry in path.rglob("*")
        if entry.is_symlink() or not entry.is_dir()
    )
    return sorted(
        entry for entry in inside if entry.suffix.lower() not in SUFFIXES or not entry.is_file()
    )


@dataclass(slots=True, kw_only=True, eq=False)
class _Run:
    """One collecting run: what it knows of the store, and what waits to be written."""

    store: Store
    profile: Profile
    given: GivenLabel
    hand: Hand | None
    golfers: dict[str, Golfer]
    clubs: KnownClubs
    measured: frozenset[str]  # golfers of whom a capture may be kept
    by_hash: dict[str, str]  # swing code by content hash, of the store and of this run
    codes: set[str]  # swing codes likewise
    corrections: dict[str, tuple[EventCorrection, ...]]  # a person's word, by content hash
    number: int
    replace_stored: bool
    who: str  # role, for the log
    why: str
    replaced: set[str] = field(default_factory=set)  # codes of swings put anew in this run
    outcomes: list[FileOutcome] = field(default_factory=list)  # written
    waiting: list[tuple[FileOutcome, Swing | None]] = field(default_factory=list)

    def prepared(self, files: Sequence[Path]) -> Iterator[FileWork | FileOutcome]:
        """Work for each file, or its outcome where that is known without reading it."""
        for path in files:
            content_hash = ""
            try:
                content_hash = _hash_of(path)
                if content_hash in self.by_hash:
                    yield self._duplicate(path, content_hash)
                else:
                    yield self._work(path, content_hash)
            except NormsError as refusal:
                yield self._outcome(path, content_hash, refusal)

    def settle(self, item: FileWork | FileOutcome, result: Swing | NormsError | None) -> None:
        """Take in what became of one file; write when a batch is full."""
        if isinstance(item, FileOutcome):
            self.waiting.append((item, None))
        elif isinstance(result, Swing):
            self.waiting.append(self._accepted(item.path, result))
        elif isinstance(result, NormsError):
            outcome = self._outcome(item.path, item.label.content_hash, result)
            self.waiting.append((outcome, None))
        if len(self.waiting) >= BATCH:
            self.write()

    def write(self) -> None:
        """Write what waits in one transaction; past a faulty swing, one by one."""
        # Taken out first: interrupted while it is being written, a batch is never written twice.
        batch, self.waiting = self.waiting, []
        place, written = (
            {outcome.source: n for n, (outcome, _) in enumerate(batch)},
            len(self.outcomes),
        )
        plain = [entry for entry in batch if entry[0].code != REPLACED]
        try:
            self._write(plain)
        except StoreRefused as refusal:
            if refusal.code not in OF_ONE_SWING:
                raise
            for entry in plain:
                self._write_one(*entry)
        for entry in batch:
            if entry[0].code == REPLACED:
                self._write_one(*entry)
        self.outcomes[written:] = sorted(self.outcomes[written:], key=lambda one: place[one.source])

    def _write(self, entries: Sequence[tuple[FileOutcome, Swing | None]]) -> None:
        outcomes = [outcome for outcome, _ in entries]
        swings = [swing for _, swing in entries if swing is not None]
        said = collected(self.profile.lab.name, outcomes)
        with self.store.act("collect", who=self.who, details=said, can_undo=False):
            self.store.add_swings(swings, outcomes, self.number)
        self.outcomes.extend(outcomes)

    def _replace(self, outcome: FileOutcome, swing: Swing | None) -> None:
        """Put one swing in the place of the stored one, as an act of its own to be undone."""
        assert swing is not None, "what replaces a swing is one"
        said = collected(self.profile.lab.name, [outcome])
        code = swing.label.swing
        with self.store.act(
            "replace",
            who=self.who,
            why=self.why,
            golfer=swing.label.golfer,
            details=said,
            swings={code},
        ):
            self.store.entry_rows.replace_swing(swing)
            self.store.add_swings([], [outcome], self.number)
        self.outcomes.append(outcome)

    def _write_one(self, outcome: FileOutcome, swing: Swing | None) -> None:
        try:
            if outcome.code == REPLACED:
                self._replace(outcome, swing)
            else:
                self._write([(outcome, swing)])
        except StoreRefused as refusal:
            if refusal.code not in OF_ONE_SWING:
                raise
            rejected = replace(
                outcome, status="rejected", code=refusal.code, message=refusal.message, swing=None
            )
            self._write([(rejected, None)])

    def _work(self, path: Path, content_hash: str) -> FileWork:
        label = label_file(
            path,
            self.profile.file_name_pattern(),
            lab=self.profile.lab.name,
            content_hash=content_hash,
            given=self.given,
        )
        golfer = self.golfers.get(label.golfer)
        if golfer is None:
            raise CaptureRefused(
                f"{path.name}: golfer {label.golfer} is not in the roster; add the golfer to the "
                "roster, read it into the store, and collect the file again",
                code="golfer_unknown",
            )
        label = replace(label, club=self.clubs.name(label.club, path.name))
        refuse_before_birth(label, golfer)
        if label.golfer not in self.measured:
            raise CaptureRefused(
                f"{path.name}: golfer {label.golfer} agrees to neither coaching, norms nor "
                "research, or is under age without a guardian's word; read the consent in (norms "
                "consents), and collect the file again",
                code="no_consent",
            )
        self._check_code(path, label.swing)
        return FileWork(
            path=path,
            label=label,
            hand=self.hand or golfer.hand,
            corrections=self.corrections.get(content_hash, ()),
        )

    def _accepted(self, path: Path, swing: Swing) -> tuple[FileOutcome, Swing | None]:
        label = swing.label
        # A twin, or another file of this name, may have been at work at the same time.
        if label.content_hash in self.by_hash:
            return self._duplicate(path, label.content_hash), None
        try:
            self._check_code(path, label.swing)
        except CaptureRefused as refusal:
            return self._outcome(path, label.content_hash, refusal), None
        anew = label.swing in self.codes
        if anew:
            self.replaced.add(label.swing)
            self.by_hash = {h: code for h, code in self.by_hash.items() if code != label.swing}
        self.by_hash[label.content_hash] = label.swing
        self.codes.add(label.swing)
        warnings = [notice for notice in swing.notices if notice.severity == "warning"]
        said = [notice.message for notice in warnings]
        outcome = FileOutcome(
            source=str(path),
            lab=label.lab,
            status="accepted_with_warnings" if warnings else "accepted",
            code=REPLACED if anew else warnings[0].code if warnings else "ok",
            message="; ".join([*([_anew(path, label.swing)] if anew else []), *said]),
            swing=label.swing,
            content_hash=label.content_hash,
        )
        return outcome, swing

    def _check_code(self, path: Path, code: str) -> None:
        if code in self.codes and (not self.replace_stored or code in self.replaced):
            raise CaptureRefused(
                f"{path.name}: swing {code} is already stored from another file; rename this file "
                "if it is another swing, or collect it with --replace if it was exported anew",
                code="swing_code_taken",
            )

    def _duplicate(self, path: Path, content_hash: str) -> FileOutcome:
        stored = self.by_hash[content_hash]
        return FileOutcome(
            source=str(path),
            lab=self.profile.lab.name,
            status="duplicate",
            code="duplicate",
            message=f"{path.name}: the same content is already stored as swing {stored}",
            swing=stored,
            content_hash=content_hash,
        )

    def _outcome(self, path: Path, content_hash: str, refusal: NormsError) -> FileOutcome:
        return FileOutcome(
            source=str(path),
            lab=self.profile.lab.name,
            status="rejected",
            code=refusal.code,
            message=refusal.message,
            content_hash=content_hash,
        )


def _anew(path: Path, code: str) -> str:
    return (
        f"{path.name}: in the place of what {code} was read from before; a person's corrections of "
        "that file's events do not count for this one"
    )


def _hash_of(path: Path) -> str:
    """SHA-256 of a file's bytes, hexadecimal."""
    if path.exists() and not path.is_file():
        raise CaptureRefused(f"{path.name}: not a regular file", code="unreadable")
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as fault:
        said = fault.strerror or "cannot be read"
        raise CaptureRefused(
            f"{path.name}: {said}; check the path and its rights", code="unreadable"
        ) from None
