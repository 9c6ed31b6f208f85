"""The fingerprint of one annex."""

import json
from hashlib import sha256

import numpy as np

from norms.records import Annex


def annex_digest(annex: Annex) -> bytes:
    """SHA-256 of what an annex says: kind, subject, reason, document and arrays.

    Parameters
    ----------
    annex : Annex

    Returns
    -------
    bytes
        32 of them; the same on any machine for the same numbers.
    """
    shapes = {name: list(annex.arrays[name].shape) for name in sorted(annex.arrays)}
    said = {
        "kind": annex.kind,
        "subject": annex.subject,
        "withheld": annex.withheld,
        "document": annex.document,
        "shapes": shapes,
    }
    text = json.dumps(said, sort_keys=True, separators=(",", ":"), allow_nan=False)
    digest = sha256(text.encode())
    for name in shapes:
        # One byte pattern for NaN and for zero of either sign, low byte first.
        values = annex.arrays[name]
        plain = np.where(np.isnan(values), np.nan, values + 0.0)
        digest.update(plain.astype("<f8").tobytes())
    return digest.digest()
