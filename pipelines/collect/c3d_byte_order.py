"""C3D files of MIPS machines, turned into the byte order that the parser reads.

Only the order of the bytes changes: every value stays where it is and what it is. Layout: "The
C3D File Format User Guide" (Motion Lab Systems, public), chapters on the header, parameter and
data sections.
"""

import math
import struct
from typing import Final

import numpy as np

BLOCK: Final = 512
INTEL: Final = 84
HEADER_REALS: Final = ((12, 16), (20, 24), (304, 376))
"""Where the header holds floats: the scale, the rate, the times of its own events."""
HEADER_BYTES: Final = ((0, 2), (376, 394), (396, 468))
"""Where it holds single bytes: the two that begin it, flags and labels of its own events."""


def intel_bytes(content: bytes) -> bytes:
    """The same file in the byte order of Intel machines.

    Parameters
    ----------
    content : bytes
        A whole C3D file that states the processor MIPS.

    Returns
    -------
    bytes
        Of the same length; what lies beyond the last whole value stays as it is.

    Raises
    ------
    struct.error, IndexError
        If the parameter section does not hold together.
    """
    turned = bytearray(content)
    parameters = (content[0] - 1) * BLOCK
    (data_block,) = struct.unpack_from(">H", content, 16)
    (scale,) = struct.unpack_from(">f", content, 12)
    _turn_header(turned)
    _turn_parameters(turned, content, parameters + 4)
    turned[parameters + 3] = INTEL
    data = (max(data_block, 1) - 1) * BLOCK
    _turn(turned, data, len(turned), 4 if scale < 0 else 2)
    return bytes(turned)


def _turn_header(turned: bytearray) -> None:
    kept = {at: bytes(turned[at:end]) for at, end in HEADER_BYTES}
    reals = {at: bytes(turned[at:end]) for at, end in HEADER_REALS}
    _turn(turned, 0, BLOCK, 2)
    for at, values in kept.items():
        turned[at : at + len(values)] = values
    for at, values in reals.items():
        turned[at : at + len(values)] = values
        _turn(turned, at, at + len(values), 4)


def _turn_parameters(turned: bytearray, content: bytes, at: int) -> None:
    """Walk the records as `c3d_layout` does, and turn each link and each body of numbers."""
    while True:
        length, identity = struct.unpack_from("<bb", content, at)
        if length == 0 or identity == 0:
            return
        link = at + 2 + abs(length)
        (offset,) = struct.unpack_from(">H", content, link)
        _turn(turned, link, link + 2, 2)
        if identity > 0:
            kind, dimensions = struct.unpack_from("<bB", content, link + 2)
            body = link + 4 + dimensions
            count = math.prod(content[link + 4 : body])
            if kind in (2, 4):
                _turn(turned, body, min(body + count * kind, len(turned)), kind)
        if offset == 0:
            return
        at = link + offset


def _turn(turned: bytearray, at: int, end: int, width: int) -> None:
    """Reverse the bytes of each whole value of ``width`` between two places."""
    whole = max(end - at, 0) // width * width
    values = np.frombuffer(bytes(turned[at : at + whole]), dtype=np.uint8)
    turned[at : at + whole] = values.reshape(-1, width)[:, ::-1].tobytes()
