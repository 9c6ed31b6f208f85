"""What each path of a command is for, declared beside it, and looked at before the work.

A path is `READ`, or an `Output`. A command that writes gets ``--force``; every output is held
against all that the command reads before anything is opened.
"""

import copy
import inspect
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import Annotated, Any, Final, get_type_hints

import typer

FORCE_HELP: Final = (
    "Replace a file of another kind, too; never a store, a capture, a table or what is read."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """A path that a command reads, or a store that it opens; never written over by an output."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """A path that a command writes.

    Attributes
    ----------
    kind : str or None
        Name of a kind in `pipelines.output_kinds`; None where nothing there may be replaced.
    folder : bool
        Whether it is a folder of such files.
    tables : tuple of str
        Names of the tables that are written into a folder.
    restored : bool
        Whether it is a store's place, in which only a store may be.
    """

    kind: str | None = None
    folder: bool = False
    tables: tuple[str, ...] = ()
    restored: bool = False

    def look_at(self, path: Path) -> None:
        """Refuse a place that may not be written to.

        Raises
        ------
        NormsError
        """
        from pipelines import output_kinds, outputs

        if self.restored:
            outputs.refuse_as_store(path)
        elif self.folder:
            outputs.folder_for(path, new=self.kind is None)
            if self.tables and path.is_dir():
                from pipelines.table_files import KINDS, refuse_foreign

                for name in self.tables:
                    refuse_foreign(path, name, KINDS)
        else:
            outputs.place_for(path, getattr(output_kinds, self.kind) if self.kind else None)


READ: Final = Read()
Purpose = Read | Output


def declared_paths(command: Callable[..., Any]) -> dict[str, Purpose]:
    """What the paths of a command are for, by parameter; of a guarded command, too."""
    known: dict[str, Purpose] | None = getattr(command, "declared", None)
    if known is not None:
        return known
    hints = get_type_hints(command, include_extras=True)
    found = {}
    for name, hint in hints.items():
        for note in getattr(hint, "__metadata__", ()):
            if isinstance(note, Purpose):
                found[name] = note
    return found


def guarded(command: Callable[..., None]) -> Callable[..., None]:
    """A command whose outputs are looked at before it does anything, with ``--force``.

    Parameters
    ----------
    command : callable
        Its paths declared by `READ` or an `Output` beside their option.
    """
    paths = declared_paths(command)
    outputs = {name: one for name, one in paths.items() if isinstance(one, Output)}
    if not outputs:
        return command

    @wraps(command)
    def run(*, force: bool = False, **given: Any) -> None:
        from pipelines.outputs import forced, refuse_clashes

        refuse_clashes(
            [path for name in outputs for path in _paths(given.get(name))],
            [path for name in paths if name not in outputs for path in _paths(given.get(name))],
        )
        with forced(force):
            command(**given)

    signature = inspect.signature(command)
    hints = get_type_hints(command, include_extras=True)
    parameters = [
        one.replace(annotation=_looked_at(hints[name], outputs[name]) if name in outputs else hint)
        for name, one in signature.parameters.items()
        for hint in [hints[name]]
    ]
    if any(one.kind is not None for one in outputs.values()):
        word = inspect.Parameter
        parameters.append(word("force", word.KEYWORD_ONLY, default=False, annotation=_FORCE))
    run.declared = paths  # type: ignore[attr-defined]
    del run.__wrapped__  # typer would read the command's own options through it
    run.__signature__ = signature.replace(parameters=parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {one.name: one.annotation for one in parameters} | {"return": None}
    return run


_FORCE: Final = Annotated[bool, typer.Option("--force", is_eager=True, help=FORCE_HELP)]


def _paths(value: Path | list[Path] | None) -> list[Path]:
    if value is None:
        return []
    return list(value) if isinstance(value, list | tuple) else [value]


def _looked_at(hint: Any, output: Output) -> Any:
    """The same annotation, its option with a callback that looks at the place at once."""

    def look(context: typer.Context, path: Path | None) -> Path | None:
        from pipelines.outputs import forced

        if path is not None:
            with forced(bool(context.params.get("force"))):
                output.look_at(Path(path))
        return path

    notes = [copy.copy(note) for note in hint.__metadata__ if not isinstance(note, Purpose)]
    for note in notes:
        note.callback = look
    return Annotated[(hint.__origin__, *notes)]
