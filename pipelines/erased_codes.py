"""Recognises the code of a golfer who was erased, so that they do not come back unnoticed.

An erasure may not keep who was erased. What is kept is a short digest of the code: 12 bits, under
a salt of its own, without a day and without a link to a receipt. Whoever has the store and guesses
a code learns that it, or one code in some four thousand by chance, was erased. Codes are few, so a
slow digest would put that off by minutes; a short one leaves doubt for good, and more is not known
than from a gap in a roster. In turn a new golfer's code is now and then stopped by chance.
"""

import hmac
import secrets
import unicodedata
from collections.abc import Collection, Sequence
from typing import Any, Final

from norms.errors import CaptureRefused, NormsError
from pipelines.lab_profiles import stored_profiles
from pipelines.roles import NOT_STATED
from pipelines.store import Store
from pipelines.store.mentions import Mentions
from pipelines.text_tables import TextTable

ERASED_CODES_KEY: Final = "erased_codes"
BITS: Final = 12

Digest = tuple[str, int]
"""Salt, 32 hexadecimal digits, and the digest under it."""


def remember_erased(store: Store, golfer: str) -> None:
    """Keep the short digest of a code that is being erased; nothing where one fits already."""
    kept = erased_codes(store)
    if not was_erased(golfer, kept):
        salt = secrets.token_hex(16)
        keep_erased(store, [(salt, _digest(golfer, salt))])


def erased_codes(store: Store) -> list[Digest]:
    """Digests of every code that was erased, in order of salt, which is at random."""
    kept: Any = store.setting(ERASED_CODES_KEY) or []
    return [(salt, digest) for salt, digest in kept]


def keep_erased(store: Store, digests: Sequence[Digest]) -> None:
    """Keep digests besides those that a store has, e.g. those of the store that it replaces."""
    known = erased_codes(store)
    if every := sorted({*known, *digests}):
        store.set_setting(ERASED_CODES_KEY, [list(one) for one in every])


def refuse_erased(people: TextTable, store: Store, again: Collection[str] = ()) -> None:
    """Note a fault for every newcomer of a roster whose code was erased, unless said otherwise.

    Parameters
    ----------
    people : TextTable
        With a column golfer.
    store : Store
    again : collection of str
        Codes that are let in, on a person's word.

    Raises
    ------
    NormsError
        ``not_erased`` for a code of ``again`` that the table does not hold, or that nothing says
        was erased.
    """
    kept = erased_codes(store)
    known = store.golfers() if kept else {}
    codes = {row.line: row.values["golfer"] for row in people.rows if "golfer" in row.values}
    stopped = {
        line: code for line, code in codes.items() if code not in known and was_erased(code, kept)
    }
    for code in again:
        if code not in stopped.values():
            raise NormsError(
                f"--again {code}: is not a new golfer of {people.name} whose code was erased; "
                "leave it out",
                code="not_erased",
            )
    for line, code in stopped.items():
        if code not in again:
            people.fault(
                line,
                "golfer",
                code,
                "a golfer of this code was erased (or, by a rare chance, of another that cannot be "
                "told from it): leave the row out, give a new golfer a new code, or let them in "
                f"with --again {code} and who and why",
            )


def refuse_erased_swings(speeds: TextTable, store: Store) -> None:
    """Note a fault for every row of a swing that is not stored and names an erased golfer.

    Whose swing it is, is read off its code as the profiles of the store's labs read file names.

    Parameters
    ----------
    speeds : TextTable
        With a column swing.
    store : Store
    """
    kept = erased_codes(store)
    if not kept:
        return
    golfers, swings = store.golfers(), store.swing_codes()
    patterns = [pattern for one in stored_profiles(store) if (pattern := one.file_name_pattern())]
    for row in speeds.rows:
        swing = row.values.get("swing")
        if swing is None or swing in swings:
            continue
        named = {(pattern.read(swing) or {}).get("golfer") for pattern in patterns}
        if any(one not in golfers and was_erased(one, kept) for one in named if one):
            speeds.fault(
                row.line,
                "swing",
                swing,
                "is of a golfer who was erased (or, by a rare chance, of another who cannot be "
                "told from them): leave the row out",
            )


def refuse_erased_capture(store: Store, golfer: str, file: str) -> None:
    """Refuse a capture of somebody off the roster whose code was erased: placing keeps the code.

    Raises
    ------
    CaptureRefused
        ``golfer_erased``.
    """
    if was_erased(golfer, erased_codes(store)):
        raise CaptureRefused(
            f"{file}: golfer {golfer} is not on the roster, and a golfer of this code was erased "
            "(or, by a rare chance, of another that cannot be told from it): leave the capture "
            "alone, or state a new code with --golfer",
            code="golfer_erased",
        )


def refuse_unsigned(again: Sequence[str], *, who: str, why: str) -> None:
    """Refuse to let erased golfers in where nobody says who decides and why, without their codes.

    Raises
    ------
    NormsError
        ``again_unsigned``.
    """
    if again and (who.strip() in ("", NOT_STATED) or not why.strip()):
        raise NormsError(
            "--again lets in golfers who were erased: say who decides, by role, and why",
            code="again_unsigned",
        )
    if any(Mentions([code], []).found_in(words) for code in again for words in (who, why)):
        raise NormsError(
            "the reason stays in the log even if the golfer is erased once more, and may not name "
            "them; say it without the code",
            code="again_unsigned",
        )


def was_erased(golfer: str, kept: Sequence[Digest]) -> bool:
    """Whether a code is among those that were erased, as far as short digests can tell."""
    return any(_digest(golfer, salt) == digest for salt, digest in kept)


def _digest(golfer: str, salt: str) -> int:
    # However the code is written: small letters would else be another person.
    code = " ".join(unicodedata.normalize("NFKC", golfer).casefold().split())
    whole = hmac.digest(bytes.fromhex(salt), code.encode(), "sha256")
    return int.from_bytes(whole[:4]) >> (32 - BITS)
