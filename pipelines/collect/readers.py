"""Which reader a file needs, told by its suffix."""

from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Final

from norms.errors import CaptureRefused
from pipelines.collect.raw_points import RawPoints

Reader = Callable[[Path], RawPoints]

_READERS: Final[dict[str, tuple[str, str, str]]] = {
    # suffix: module, function, library that the module needs
    ".c3d": ("pipelines.collect.read_c3d", "read_c3d", "ezc3d"),
    ".bvh": ("pipelines.collect.read_bvh", "read_bvh", "pybvh"),
    ".csv": ("pipelines.collect.read_table", "read_csv_table", "csv"),
    ".parquet": ("pipelines.collect.read_table", "read_parquet_table", "pyarrow.parquet"),
}
SUFFIXES: Final[tuple[str, ...]] = tuple(_READERS)


def reader_for(path: Path) -> Reader:
    """The reader for a file, with its library loaded.

    Raises
    ------
    CaptureRefused
        ``unknown_format`` if the suffix is none of ``SUFFIXES``.
    """
    suffix = path.suffix.lower()
    if suffix not in _READERS:
        raise CaptureRefused(
            f"{path.name}: '{suffix}' is no format of captures; these are {', '.join(SUFFIXES)}",
            code="unknown_format",
        )
    module, function, library = _READERS[suffix]
    # Loading here keeps the time of an import out of the time that a file is allowed.
    import_module(library)
    reader: Reader = getattr(import_module(module), function)
    return reader


def read_points(path: Path) -> RawPoints:
    """Read a capture file's points, whatever its format.

    Raises
    ------
    CaptureRefused
        With one line that names the file and what is wrong.
    """
    return reader_for(path)(path)
