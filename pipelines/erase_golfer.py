"""Erases a golfer: out of every table, out of frozen editions, and out of the file's bytes."""

import hmac
import secrets
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from norms.cohort.without_golfer import edition_without, withdrawn_edition
from norms.errors import NormsError, StoreRefused
from pipelines.erased_codes import remember_erased
from pipelines.settings import settings_of
from pipelines.store import Store, open_store
from pipelines.store.erasure import EditionMark, ErasureOrder, ErasureReceipt
from pipelines.store.mentions import SHORTEST, Mentions


@dataclass(frozen=True, slots=True, kw_only=True)
class Erased:
    """What an erasure did.

    Attributes
    ----------
    receipt : ErasureReceipt
        As the store keeps it.
    key : str
        For the person who was erased, shown once: with it, and only with it, they can show that
        the receipt is theirs.
    marks : tuple of EditionMark
        What it did to frozen editions.
    standards : tuple of str
        Standards that rest on such an edition. An approved one stays in force, for its numbers are
        its own; one that is in review is to be drafted anew.
    named_elsewhere : tuple of Path
        Files in the folders looked into that name the golfer still: a person removes them.
    """

    receipt: ErasureReceipt
    key: str
    marks: tuple[EditionMark, ...]
    standards: tuple[str, ...] = ()
    named_elsewhere: tuple[Path, ...] = ()


def erase_golfer(
    path: Path, golfer: str, *, why: str, who: str, look_in: Sequence[Path] = ()
) -> Erased:
    """Erase a golfer from a store, and write the store's file anew.

    Everything kept of the golfer goes in one transaction: curves, events, features, outcomes of
    files, ball speeds, placements, consents, membership of editions. Frozen editions that counted
    the golfer are computed anew without them, or withdrawn, as the academy's settings say, and
    are marked. Copies that changes of tables left beside the store are removed. Killed at any
    point, the store is whole, and the next opening for writing finishes the work. A short digest
    of the code is kept, by which a roster that names it again is stopped;
    `pipelines.erased_codes` says what it tells and what not.

    Captures, tables, exports and backups outside the store are not touched; ``look_in`` names
    folders in which files that name the golfer are looked for.

    Parameters
    ----------
    path : Path
        The store.
    golfer : str
    why, who : str
        Reason and role; neither names the golfer.
    look_in : sequence of Path

    Raises
    ------
    StoreRefused
        ``golfer_unknown`` where nothing in the store is about the golfer.
    NormsError
        ``erasure_unexplained``.
    """
    why, who = " ".join(why.split()), " ".join(who.split())
    _check_words(golfer, why, who)
    with open_store(path) as store:
        if store.golfer(golfer) is None and not store.erasures.names_anywhere(golfer):
            raise StoreRefused(
                f"golfer {golfer}: nothing in {store.path} is about this code; check the code",
                code="golfer_unknown",
            )
        mentions = store.erasures.mentions(golfer)
        order, key = _order(store, golfer, why, who)
        with store.act("erase", who=who, why=why, binds_anew=True):
            remember_erased(store, golfer)
            receipt = store.erasures.erase(order)
        marks = tuple(
            mark
            for before, _ in order.amended
            for mark in store.erasures.marks(before.name)
            if mark.receipt == receipt.receipt
        )
    with open_store(path) as store:  # opening it writes the file anew
        others = [*store.golfers(), *store.swing_codes()]
        standards = _standards_on(store, {mark.edition for mark in marks})
    _check_bytes(path, golfer, others)
    found = tuple(_files_naming(mentions, look_in, path))
    return Erased(receipt=receipt, key=key, marks=marks, standards=standards, named_elsewhere=found)


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


def _order(store: Store, golfer: str, why: str, who: str) -> tuple[ErasureOrder, str]:
    policy = settings_of(store).erased_from_editions
    amend = edition_without if policy == "recompute" else withdrawn_edition
    editions = [store.edition(name) for name in store.erasures.editions_counting(golfer)]
    key = secrets.token_hex(32)
    order = ErasureOrder(
        golfer=golfer,
        receipt=secrets.token_hex(8),
        who=who,
        why=why,
        digest=_digest(golfer, key),
        policy=policy,
        erased_at=datetime.now(UTC).replace(tzinfo=None),
        amended=tuple((edition, amend(edition, golfer)) for edition in editions),
    )
    return order, key


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
            if not path.is_file() or path.absolute() == store.absolute():
                continue
            if mentions.found_in(path.name) or _named_in(path, mentions):
                yield path


def _named_in(path: Path, mentions: Mentions) -> bool:
    return mentions.found_in(path.read_bytes().decode("utf-8", errors="replace"))
