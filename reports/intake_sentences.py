"""What was read in, and what it means for swings that are stored already, in sentences."""

from collections.abc import Sequence
from typing import Final

NAMED: Final = 20
"""Codes that a sentence names before it only counts."""


def other_hand_sentences(swings: Sequence[tuple[str, str, str, str]]) -> list[str]:
    """Which swings are to be read again because a roster changed their golfer's hand.

    Parameters
    ----------
    swings : sequence of (str, str, str, str)
        Golfer, swing, name of its file and the hand it was read with, by golfer.
    """
    sentences = []
    for golfer in dict.fromkeys(golfer for golfer, *_ in swings):
        mine = [one for one in swings if one[0] == golfer]
        was = mine[0][3]
        now = "left" if was == "right" else "right"
        files = [f"{swing} ({source})" for _, swing, source, _ in mine]
        count = "1 stored swing was" if len(mine) == 1 else f"{len(mine)} stored swings were"
        sentences.append(
            f"golfer {golfer} plays from the {now} now, and {count} read from the {was}, so that "
            f"thrust has the wrong sign: {named(files)}. Read each again: norms amend capture "
            f"{mine[0][1]} hand={now} --capture FILE"
        )
    return sentences


def speeds_sentence(count: int, not_stored: Sequence[str]) -> str:
    """How many ball speeds were read, and of which swings that the store does not have."""
    read = f"{count} ball speed{'' if count == 1 else 's'} read"
    if not not_stored:
        return f"{read}, each for a stored swing"
    return f"{read}, {len(not_stored)} of them for swings that are not in the store yet: " + named(
        not_stored
    )


def named(codes: Sequence[str]) -> str:
    """Codes with commas; of many the first ones and how many more."""
    hidden = len(codes) - NAMED
    return ", ".join(codes[:NAMED]) + (f" and {hidden} more" if hidden > 0 else "")
