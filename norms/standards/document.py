"""A standard and the decisions on it as plain values, and the hashes that make a change evident."""

import json
from collections.abc import Mapping
from dataclasses import asdict
from hashlib import sha256
from typing import Any, Final

from norms.errors import StandardRefused
from norms.records.plain import put_together, take_apart
from norms.records.standard import Decision, GolferVerdict, Standard

SCHEMA_VERSION: Final = 1


def standard_document(standard: Standard) -> dict[str, Any]:
    """A standard as plain JSON values."""
    document, _ = take_apart(standard)
    return {"schema_version": SCHEMA_VERSION, "standard": document}


def standard_text(standard: Standard) -> str:
    """The one text of a standard that its hash is taken over."""
    return canonical(standard_document(standard))


def standard_of(text: str) -> Standard:
    """The standard of `standard_text`."""
    return put_together(Standard, json.loads(text)["standard"], {})


def standard_hash(standard: Standard) -> str:
    """SHA-256 over everything a standard says, edition hash included; 64 hexadecimal digits."""
    return text_hash(standard_text(standard))


def decision_hash(name: str, decision: Decision, before: str) -> str:
    """SHA-256 over a decision, the standard's name and the hash of the decision before it."""
    document = asdict(decision) | {
        "standard": name,
        "before": before,
        "decided_on": decision.decided_on.isoformat(),
    }
    return text_hash(canonical(document))


def verify_text(name: str, text: str, stated_hash: str) -> Standard:
    """The standard of a text, after making sure that not a byte has changed.

    Raises
    ------
    StandardRefused
        If the text is not the one the hash was taken over.
    """
    if text_hash(text) != stated_hash:
        raise StandardRefused(
            f"standard {name}: was changed after it was kept: its text has fingerprint "
            f"{text_hash(text)[:12]}, kept was {stated_hash[:12]}; restore the store from a copy",
            code="standard_changed",
        )
    return standard_of(text)


def verdict_document(verdict: GolferVerdict) -> dict[str, Any]:
    """One golfer's verdict as plain JSON values."""
    return asdict(verdict)


def verdict_of(document: Mapping[str, Any]) -> GolferVerdict:
    """The verdict of `verdict_document`."""
    return put_together(GolferVerdict, document, {})


def canonical(document: Mapping[str, Any]) -> str:
    """One text for the same values: keys sorted, no spaces, no number that JSON does not know."""
    return json.dumps(
        document, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )


def text_hash(text: str) -> str:
    """SHA-256 of a text in UTF-8."""
    return sha256(text.encode("utf-8")).hexdigest()
