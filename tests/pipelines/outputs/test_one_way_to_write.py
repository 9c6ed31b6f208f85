"""Nothing in the package writes a file by itself: one module decides, one puts in place."""

import ast
from pathlib import Path

import pipelines
from norms.placement.golfer_document import COLUMNS
from pipelines.output_kinds import CSV_HEADS

WRITING = {"write_text", "write_bytes", "to_csv", "to_parquet", "mkstemp", "mkdtemp", "copyfile"}
PACKAGE = Path(pipelines.__file__).parent
ALLOWED = {
    "files.py": {"mkstemp"},
    "csv_cells.py": {"to_csv"},
    "export_edition.py": {"mkdtemp", "to_parquet"},  # a new folder, and bytes in memory
    "restore.py": {"copyfile"},  # a store's draft beside the store
}


def test_no_module_writes_by_itself() -> None:
    found: dict[str, set[str]] = {}
    for file in PACKAGE.rglob("*.py"):
        for call in ast.walk(ast.parse(file.read_text())):
            if not isinstance(call, ast.Call):
                continue
            name = getattr(call.func, "attr", getattr(call.func, "id", ""))
            modes = [one.value for one in call.args if isinstance(one, ast.Constant)]
            opens = name == "open" and any(
                str(mode).strip("bt+") in "wax" for mode in modes if mode
            )
            if name in WRITING or opens:
                found.setdefault(str(file.relative_to(PACKAGE)), set()).add(name)
    assert found == ALLOWED


def test_the_table_of_a_placement_is_known_by_its_header() -> None:
    assert ",".join(COLUMNS).startswith(CSV_HEADS)
