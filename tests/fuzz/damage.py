"""Ways in which a file is damaged: one draw of a generator, one damaged file."""

import re
import struct
from collections.abc import Callable
from typing import Final

import numpy as np

Damage = Callable[[np.random.Generator, bytes], bytes]
HUGE_WORDS: Final = (0, 1, 0x7FFF, 0x8000, 0xFFFF, 0xFFFE, 255, 256, 60_000)
HUGE_TEXTS: Final = (
    b"99999999999", b"-1", b"1e308", b"nan", b"inf", b"1e-320", b"0", b"", b"0x10", b"4294967296",
)  # fmt: skip
MOST_BYTES: Final = 2_000_000


def damaged(rng: np.random.Generator, content: bytes, *, text: bool) -> bytes:
    """One to three kinds of damage, one after another."""
    kinds = TEXT_DAMAGE if text else BINARY_DAMAGE
    for _ in range(int(rng.integers(1, 4))):
        content = kinds[int(rng.integers(len(kinds)))](rng, content)[:MOST_BYTES]
    return content


def cut(rng: np.random.Generator, content: bytes) -> bytes:
    return content[: int(rng.integers(len(content) + 1))]


def flip_bits(rng: np.random.Generator, content: bytes) -> bytes:
    changed = bytearray(content)
    for at in _places(rng, content, 1, 40):
        changed[at] ^= 1 << int(rng.integers(8))
    return bytes(changed)


def overwrite_head(rng: np.random.Generator, content: bytes) -> bytes:
    """Random bytes where a file states its own layout."""
    changed = bytearray(content)
    for at in _places(rng, content[:2048], 1, 12):
        changed[at] = int(rng.integers(256))
    return bytes(changed)


def huge_words(rng: np.random.Generator, content: bytes) -> bytes:
    """Counts and sizes that nothing could hold, in the header or the parameters."""
    changed = bytearray(content)
    for at in _places(rng, content[:1536], 1, 4):
        word = HUGE_WORDS[int(rng.integers(len(HUGE_WORDS)))]
        order = "<" if rng.random() < 0.7 else ">"
        changed[at : at + 2] = struct.pack(f"{order}H", word)
    return bytes(changed)


def false_counts(rng: np.random.Generator, content: bytes) -> bytes:
    """Counts in a C3D header that agree with one another and with nothing else."""
    changed = bytearray(content)
    if len(changed) >= 24:
        at = 2 * int(rng.integers(1, 11))
        struct.pack_into("<H", changed, at, int(rng.integers(65_536)))
    return bytes(changed)


def move_a_piece(rng: np.random.Generator, content: bytes) -> bytes:
    a, b = sorted(int(v) for v in rng.integers(len(content) + 1, size=2))
    at = int(rng.integers(len(content) + 1))
    return content[:at] + content[a:b] + content[at:]


def drop_a_piece(rng: np.random.Generator, content: bytes) -> bytes:
    a, b = sorted(int(v) for v in rng.integers(len(content) + 1, size=2))
    return content[:a] + content[b:]


def noise(rng: np.random.Generator, content: bytes) -> bytes:
    """Nothing of the file is left but, now and then, its first bytes."""
    kept = content[: int(rng.choice([0, 0, 4, 16, 512]))]
    return kept + rng.bytes(int(rng.integers(1, 4000)))


def huge_numbers(rng: np.random.Generator, content: bytes) -> bytes:
    """Some numbers of a text become ones that no reader could hold."""
    numbers = list(re.finditer(rb"-?\d+(?:\.\d+)?", content[:6000]))
    if not numbers:
        return content
    found = numbers[int(rng.integers(len(numbers)))]
    value = HUGE_TEXTS[int(rng.integers(len(HUGE_TEXTS)))]
    return content[: found.start()] + value + content[found.end() :]


def repeat_a_line(rng: np.random.Generator, content: bytes) -> bytes:
    """A line stands many times: nesting without end, tables without end."""
    lines = content.split(b"\n")
    at = int(rng.integers(len(lines)))
    times = int(rng.choice([2, 50, 3000]))
    return b"\n".join([*lines[:at], *[lines[at]] * times, *lines[at:]])


def swap_words(rng: np.random.Generator, content: bytes) -> bytes:
    words = re.split(rb"(\s+|,)", content)
    a, b = (int(v) for v in rng.integers(len(words), size=2))
    words[a], words[b] = words[b], words[a]
    return b"".join(words)


def one_long_line(rng: np.random.Generator, content: bytes) -> bytes:
    at = int(rng.integers(len(content) + 1))
    filler = bytes([int(rng.choice([0x20, 0x2C, 0x7B, 0x31, 0x22]))]) * int(
        rng.integers(1, 200_000)
    )
    return content[:at] + filler + content[at:]


def _places(rng: np.random.Generator, content: bytes, least: int, most: int) -> list[int]:
    if not content:
        return []
    return [int(at) for at in rng.integers(len(content), size=int(rng.integers(least, most)))]


ANY_DAMAGE: Final[tuple[Damage, ...]] = (cut, flip_bits, move_a_piece, drop_a_piece, noise)
BINARY_DAMAGE: Final = (*ANY_DAMAGE, overwrite_head, huge_words, huge_words, false_counts)
TEXT_DAMAGE: Final = (
    *ANY_DAMAGE,
    huge_numbers,
    huge_numbers,
    repeat_a_line,
    swap_words,
    one_long_line,
)
