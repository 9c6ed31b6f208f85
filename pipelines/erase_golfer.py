"""Erases a golfer: out of every table, out of frozen editions, and out of the file's bytes."""

import hmac
import json
import secrets
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from norms.errors import NormsError, StoreRefused
from pipelines.erased_codes import remember_erased
from pipelines.rebuilt_annexes import editions_without
from pipelines.settings import settings_of
from pipelines.store import Store, open_store
from pipelines.store.audit import AuditEntry
from pipelines.store.beside import side_files
from pipelines.store.erasure import EditionMark, ErasureOrder, ErasureReceipt
from pipelines.store.mentions import SHORTEST, Mentions

GIVEN_OUT: Final = frozenset({"backup", "export", "share"})
"""Acts of the log that take something out of the store."""
HandOut = Callable[[str, str], None]
"""Takes the receipt's number and its key; whoever holds the key can have the receipt shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Erased:
    """What an erasure did.

    Attributes
    ----------
    receipt : ErasureReceipt
        As the store keeps it.
    key : str
        For the person who was erased: with it, and only with it, they can have the receipt shown.
        The store does not hold it.
    marks : tuple of EditionMark
        What it did to frozen editions.
    standards : tuple of str
        Standards that rest on such an edition. An approved one stays in force, for its numbers are
        its own; one that is in review is to be drafted anew.
    annexes_lost : Mapping of str to str
        By edition that was computed anew, why what stood beside its bands could not be.
    removed : tuple of str
        Names of copies beside the store that went with the golfer.
    given_out : tuple of AuditEntry
        Backups, exports and shares of the log that may hold the golfer: no program can call them
        back.
    named_elsewhere : tuple of Path
        Files in the folders looked into that name the golfer still: a person removes them.
    """

    receipt: ErasureReceipt
    key: str
    marks: tuple[EditionMark, ...]
    standards: tuple[str, ...] = ()
    annexes_lost: Mapping[str, str] = field(default_factory=dict)
    removed: tuple[str, ...] = ()
    given_out: tuple[AuditEntry, ...] = ()
    named_elsewhere: tuple[Path, ...] = ()


def erase_golfer(
    path: Path,
    golfer: str,
    *,
    why: str,
    who: str,
    look_in: Sequence[Path] = (),
    hand_out: HandOut | None = None,
) -> Erased:
    """Erase a golfer from a store, and write the store's file anew.

    First the receipt's number and key are handed out. Then everything kept of the golfer goes in
    one transaction, with which the receipt and its line in the log come: curves, events, features,
    outcomes of files, ball speeds, placements, consents, membership of editions. Frozen editions
    that counted the golfer are computed anew without them, with what stands beside their bands, or
    withdrawn, as the academy's settings say, and are marked. Then the file is written anew, and
    copies beside the store are removed.

    Killed at any point, the store is whole: before the transaction nothing is erased, and the key
    opens no receipt; after it everything is, and the next opening of any kind finishes the file.
    A short digest of the code is kept, by which a roster that names it again is stopped;
    `pipelines.erased_codes` says what it tells and what not.

    Captures, tables, exports and backups outside the store are not touched; ``look_in`` names
    folders in which files that name the golfer are looked for.

    Parameters
    ----------
    path : Path
        The store; where it is a link, the file that it leads to.
    golfer : str
    why, who : str
        Reason and role; neither names the golfer.
    look_in : sequence of Path
    hand_out : callable, optional
        Called before anything is deleted.

    Raises
    ------
    StoreRefused
        ``golfer_unknown`` where nothing in the store is about the golfer, ``store_linked`` where
        the file has a second name; ``erasure_unfinished`` where the rows are gone and the file
        could not be written anew.
    NormsError
        ``erasure_unexplained``.
    """
    why, who = " ".join(why.split()), " ".join(who.split())
    _check_words(golfer, why, who)
    with open_store(path) as store:
        if store.golfer(golfer) is None and not store.erasures.names_anywhere(golfer):
            raise StoreRefused(
                f"golfer {golfer}: nothing in {store.path} is about this code; check the code "
                "(norms receipts shows, by its key, the receipt of who was erased)",
                code="golfer_unknown",
            )
        store.refuse_linked()
        mentions = store.erasures.mentions(golfer)
        given_out = tuple(_given_out(store, golfer))
        key = secrets.token_hex(32)
        order = _order(store, golfer, why, who, key)
        amended, annexes_lost = editions_without(store, golfer, order.policy)
        order = replace(order, amended=tuple(amended))
        if hand_out is not None:
            hand_out(order.receipt, key)
        receipt = _erase(store, order)
        marks = tuple(
            mark
            for before, _ in order.amended
            for mark in store.erasures.marks(before.name)
            if mark.receipt == receipt.receipt
        )
        standards = _standards_on(store, {mark.edition for mark in marks})
        others = [*store.golfers(), *store.swing_codes()]
        removed = tuple(other.name for other in side_files(path.resolve()))
        _write_anew(store, path)
    _check_bytes(path, golfer, others)
    return Erased(
        receipt=receipt,
        key=key,
        marks=marks,
        standards=standards,
        annexes_lost=annexes_lost,
        removed=removed,
        given_out=given_out,
        named_elsewhere=tuple(_files_naming(mentions, look_in, path)),
    )


def _erase(store: Store, order: ErasureOrder) -> ErasureReceipt:
    try:
        with store.act("erase", who=order.who, why=order.why, binds_anew=True):
            remember_erased(store, order.golfer)
            return store.erasures.erase(order)
    except StoreRefused as refusal:
        raise StoreRefused(
            f"{refusal.message}. Nothing was erased, and the key that was handed out opens no "
            "receipt: try again",
            code=refusal.code,
        ) from refusal


def _write_anew(store: Store, path: Path) -> None:
    """Write the file anew; somebody who slipped in meanwhile is waited for."""
    try:
        try:
            store.write_anew()
        except StoreRefused as refusal:
            if refusal.code != "store_busy":
                raise
            open_store(path).close()  # finishes what is due
    except StoreRefused as refusal:
        raise StoreRefused(
            f"{refusal.message}. The rows are erased and the receipt is kept; the next command "
            "that opens the store finishes its file",
            code="erasure_unfinished",
        ) from refusal


def _given_out(store: Store, golfer: str) -> Iterable[AuditEntry]:
    """Entries of the log by which the golfer, or numbers that count the golfer, left the store.

    A backup holds the whole roster, whenever it was made; a study's frame can hold the golfer from
    the first swing on; an edition does where the golfer is among its members.
    """
    counting = set(store.erasures.editions_counting(golfer))
    since = store.erasures.first_collected(golfer)
    for entry in store.audit.entries():
        if entry.action not in GIVEN_OUT:
            continue
        details = json.loads(entry.details)
        if "edition" in details:
            mine = details["edition"] in counting
        elif entry.action == "backup":
            mine = True
        else:
            mine = since is not None and entry.at >= since
        if mine:
            yield entry


def receipt_of(store: Store, golfer: str, key: str) -> ErasureReceipt:
    """The receipt of a golfer, by the key that was shown when they were erased.

    Raises
    ------
    StoreRefused
        ``receipt_unknown`` where none is theirs by this key.
    """
    try:
        digest = _digest(golfer, key)
    except ValueError:
        digest = ""
    for receipt in store.erasures.receipts():
        if digest and hmac.compare_digest(receipt.digest, digest):
            return receipt
    raise StoreRefused(
        f"golfer {golfer}: no receipt of {store.path} is theirs by this key; check code and key, "
        "letter by letter",
        code="receipt_unknown",
    )


def _check_words(golfer: str, why: str, who: str) -> None:
    if not why or not who:
        missing = "why" if not why else "who erases"
        raise NormsError(
            f"an erasure needs who and why, and {missing} is empty; state it, by role and not by "
            "name",
            code="erasure_unexplained",
        )
    named = Mentions([golfer], [])
    if named.found_in(why) or named.found_in(who):
        raise NormsError(
            "the reason of an erasure stays on record and may not name the golfer; say it without "
            "the code",
            code="erasure_unexplained",
        )


def _order(store: Store, golfer: str, why: str, who: str, key: str) -> ErasureOrder:
    policy = settings_of(store).erased_from_editions
    return ErasureOrder(
        golfer=golfer,
        receipt=secrets.token_hex(8),
        who=who,
        why=why,
        digest=_digest(golfer, key),
        policy=policy,
        erased_at=datetime.now(UTC).replace(tzinfo=None),
    )


def _standards_on(store: Store, editions: Collection[str]) -> tuple[str, ...]:
    names = store.standards.names()
    return tuple(n for n in names if store.standards.standard(n).standard.edition in editions)


def _digest(golfer: str, key: str) -> str:
    return hmac.new(bytes.fromhex(key), golfer.encode(), "sha256").hexdigest()


def _check_bytes(path: Path, golfer: str, others: Iterable[str]) -> None:
    """Last look at the file itself.

    A short code is found by chance, and one inside somebody else's is found rightly: neither is
    looked for.
    """
    if len(golfer) <= SHORTEST or any(golfer in other for other in others):
        return
    if golfer.encode() in path.read_bytes():
        raise StoreRefused(
            f"{path}: the rows of golfer {golfer} are erased, but the file still holds the code: "
            "report this",
            code="erasure_incomplete",
        )


def _files_naming(mentions: Mentions, folders: Iterable[Path], store: Path) -> Iterable[Path]:
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            if not path.is_file() or path.resolve() == store.resolve():
                continue
            if mentions.found_in(path.name) or _named_in(path, mentions):
                yield path


def _named_in(path: Path, mentions: Mentions) -> bool:
    return mentions.found_in(path.read_bytes().decode("utf-8", errors="replace"))
