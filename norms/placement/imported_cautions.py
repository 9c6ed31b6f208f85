"""What must stand beside a placement in another academy's norms."""

from datetime import date
from typing import Any, Final

from norms.placement.peers import Peers
from norms.records import Edition
from norms.records.edition import VERIFIED
from norms.swing.catalogue import BY_NAME

THEIR_NOISE: Final = (
    "How much one swing differs from the next is taken from that academy's golfers and labs; ours "
    "may differ."
)


def imported_sentences(edition: Edition, peers: Peers) -> tuple[str, ...]:
    """Whose norms these are, whether they were verified here, and what cannot be said with them.

    Parameters
    ----------
    edition : Edition
    peers : Peers

    Returns
    -------
    tuple of str
        Empty for an edition of the academy's own.
    """
    if not edition.imported:
        return ()
    whose = (
        f"Another academy's norms: edition {edition.name}, {peers.golfers} golfers who are not "
        f"in this store. {_verified(edition, peers.definition.key)}"
    )
    if peers.bands is None:
        return (whose,)
    return (whose, _without_golfers(peers.bands.confidence))


def _without_golfers(confidence: float) -> str:
    return (
        "Without the golfers themselves percentiles are read between the published ones, the "
        f"interval from their published {100.0 * confidence:g} % limits, and never beyond the "
        "outermost; counts, the test of one golfer against few, findings and look-alikes are "
        "left out; and nobody can be left out, so a golfer measured there too is among their own "
        "peers."
    )


def _verified(edition: Edition, key: str) -> str:
    """The verdict on this group with its day, or that there is none."""
    verdicts: Any = edition.evidence.get(VERIFIED, {})
    if key not in verdicts:
        return "Not verified on golfers of our own (norms adopt does it): taken on trust."
    found = verdicts[key]
    on = date.fromisoformat(found["day"])
    tested = f"on {found['local_golfers']} golfers of our own on {on.day} {on:%B %Y}"
    if found["verdict"] == "accept":
        return f"Verified {tested}: accepted."
    names = [BY_NAME[name].label if name in BY_NAME else name for name in found["refused_by"]]
    return f"Verified {tested} and NOT accepted, because of {', '.join(names)}."
