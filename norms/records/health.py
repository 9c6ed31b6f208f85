"""What is written of a golfer's health: told from other marks, and kept from who may not read."""

import re
from collections.abc import Iterable
from typing import Final

from norms.records.progress import GolferEvent

HEALTH_WORDS: Final = re.compile(
    r"\b(?:ach(?:e|es|ing)|arthriti|concussi|diagnos|doctor|fractur|hernia|hospital|hurt|ill\b"
    r"|illness|inflam|injur|ligament|medic|operated|pain|physio|pregnan|rehab|sick|sore|sprain"
    r"|strain|surg|swollen|tendon|therap|torn|treatment)",
    re.IGNORECASE,
)
"""Words that make a mark one of health without anybody saying so; no list is complete, and
whoever writes a mark can say that it is one."""
ON_RECORD: Final = "health note on record"


def concerns_health(kind: str, note: str | None) -> bool:
    """Whether the words of a mark are of health."""
    return bool(HEALTH_WORDS.search(f"{kind} {note or ''}"))


def is_of_health(event: GolferEvent) -> bool:
    """Whether a mark is one of health: said so by who wrote it, or by its words."""
    return event.health or concerns_health(event.kind, event.note)


def without_health_words(events: Iterable[GolferEvent]) -> tuple[GolferEvent, ...]:
    """The marks with those of health reduced to their day, and to that there is one."""
    return tuple(
        GolferEvent(golfer=one.golfer, day=one.day, kind=ON_RECORD, health=True)
        if is_of_health(one)
        else one
        for one in events
    )
