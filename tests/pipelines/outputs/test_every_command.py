"""No output of any command replaces a store, a source or somebody's file."""

from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
import typer

from norms.errors import NormsError
from pipelines.cli import app
from pipelines.commands.declared_paths import Output, Read, declared_paths


def commands(part: Any, words: tuple[str, ...] = ()) -> list[tuple[str, Any]]:
    """Every command with the words that call it."""
    inner = getattr(part, "commands", None)
    if inner is None:
        return [(" ".join(words), part)]
    return [one for name, some in inner.items() for one in commands(some, (*words, name))]


ROOT: Any = typer.main.get_command(app)
ALL = commands(ROOT)


def refusal(*words: str | Path) -> str | None:
    """What the command line says, built once for many calls; None where it does not refuse."""
    try:
        ROOT.main([str(word) for word in words], standalone_mode=False)
    except NormsError as refused:
        return refused.message
    return None


def of_command(command: Any) -> Any:
    """The function behind a command, its declared paths with it."""
    return command.callback.__wrapped__


def holds_paths(hint: Any) -> bool:
    return hint is Path or any(holds_paths(one) for one in get_args(hint))


def written() -> list[tuple[str, str, str, Output]]:
    """Command, words before the value, parameter and purpose of every output there is."""
    found = []
    for words, command in ALL:
        for name, purpose in declared_paths(of_command(command)).items():
            if isinstance(purpose, Output):
                parameter = next(one for one in command.params if one.name == name)
                option = parameter.opts[0] if parameter.opts[0].startswith("-") else ""
                found.append((words, option, name, purpose))
    return found


WRITTEN = written()
NAMED = [(words, option) for words, option, _, purpose in WRITTEN if option]


@pytest.mark.parametrize(("words", "command"), ALL, ids=[words for words, _ in ALL])
def test_every_path_is_declared_as_read_or_written(words: str, command: Any) -> None:
    function = of_command(command)
    declared = declared_paths(function)
    hints = get_type_hints(function)
    paths = {name for name, hint in hints.items() if name != "return" and holds_paths(hint)}
    assert paths == set(declared)
    assert all(isinstance(one, Read | Output) for one in declared.values())
    if any(isinstance(one, Output) for one in declared.values()):
        assert hasattr(function, "declared"), f"{words} writes and is not guarded"


def test_the_walk_finds_the_outputs_that_there_are() -> None:
    assert len(ALL) > 40
    assert len(WRITTEN) > 25
    assert {option for _, option in NAMED} == {
        "--json", "--html", "--csv", "--pdf", "--details", "--out",
    }  # fmt: skip


@pytest.mark.parametrize(("words", "option"), NAMED, ids=[" ".join(one) for one in NAMED])
def test_twenty_slips_are_refused_and_not_a_byte_is_changed(
    words: str, option: str, slips, bytes_of, capsys
) -> None:
    folder = slips["academy.duckdb"].parent
    before = bytes_of(folder)
    assert len(slips) >= 20
    into_folder = option == "--out" and words != "profile"
    for force in ([], ["--force"]):
        for name, path in slips.items():
            if into_folder and name == "inner":
                continue  # a folder is what is asked for
            said = refusal(*words.split(), option, path, *force)
            assert said is not None, name
            assert said.startswith(str(path)), name
            assert "\n" not in said
    assert bytes_of(folder) == before
    assert capsys.readouterr().out == ""


ARGUMENTS = {
    "standard draft": ["--edition", "e", "--cohort", "c", "--name", "n", "--title", "t",
                       "--review", "2031-01-01", "--store"],
    "share": ["edition"],
    "backup": [],
    "restore": [],
    "demo": [],
}  # fmt: skip


def test_outputs_that_are_arguments_are_refused_as_well(run, slips, bytes_of) -> None:
    store = slips["academy.duckdb"]
    folder = store.parent
    before = bytes_of(folder)
    named = {words for words, option, _, _ in WRITTEN if not option}
    assert named == set(ARGUMENTS)
    for name, path in slips.items():
        if name in ("inner", "circle.html"):
            continue
        given = {
            "standard draft": [path, *ARGUMENTS["standard draft"], store],
            "share": ["spring", path, "--store", store],
            "backup": [store, path],
            "demo": [path],
        }
        for words, values in given.items():
            assert refusal(*words.split(), *values) is not None, (words, name)
    for name in ("north_bay.toml", "roster.csv", "capture.json", "table.parquet", "lists.bvh"):
        code, _, err = run("restore", store, slips[name], "--who", "analyst", "--replace")
        assert code == 1
        assert "never written over" in err
    assert bytes_of(folder) == before


def test_what_a_command_reads_is_never_its_output(run, slips, bytes_of, tmp_path: Path) -> None:
    folder = slips["academy.duckdb"].parent
    before = bytes_of(folder)
    new = tmp_path / "new.duckdb"
    code, _, err = run(
        "collect", slips["Q0001_2025-03-25_driver_01.c3d"], "--profile", slips["north_bay.toml"],
        "--store", new, "--json", tmp_path / "inner" / ".." / "new.duckdb",
    )  # fmt: skip
    assert code == 1
    assert "cannot be written" in err or "what this command reads" in err
    code, _, err = run(
        "collect", slips["Q0001_2025-03-25_driver_01.c3d"], "--profile", slips["north_bay.toml"],
        "--store", new, "--json", new,
    )  # fmt: skip
    assert code == 1
    assert "what this command reads" in err
    assert not new.exists()
    assert bytes_of(folder) == before


def test_two_outputs_never_share_a_file(run, slips, tmp_path: Path) -> None:
    code, _, err = run(
        "check", "--store", slips["academy.duckdb"],
        "--json", tmp_path / "one", "--html", tmp_path / "one",
    )  # fmt: skip
    assert code == 1
    assert "name two files" in err
    assert not (tmp_path / "one").exists()


def test_a_file_of_another_kind_is_replaced_on_a_persons_word_alone(run, slips, tmp_path) -> None:
    store, notes = slips["academy.duckdb"], tmp_path / "notes.txt"
    notes.write_text("to do: ring the office\n")
    code, _, err = run("log", "--store", store, "--json", notes)
    assert code == 1
    assert "--force" in err
    assert notes.read_text() == "to do: ring the office\n"
    code, _, _ = run("log", "--json", notes, "--store", store, "--force")
    assert code == 0
    assert notes.read_text().startswith('{\n "written_by": "norms"')
    # now it is one of ours, and of its kind it is replaced without a word, of another it is not
    assert run("log", "--store", store, "--json", notes)[0] == 0
    code, _, err = run("check", "--store", store, "--html", notes)
    assert code == 1
    assert "JSON written by this program" in err


def test_a_drafted_profile_is_replaced_until_a_person_has_edited_it(run, slips) -> None:
    capture = slips["Q0001_2025-03-25_driver_01.c3d"]
    draft = capture.with_name("draft.toml")
    assert run("profile", capture, "--out", draft)[0] == 0
    assert run("profile", capture, "--out", draft, "--lab", "North bay")[0] == 0
    corrected = draft.read_text().replace("North bay", "South bay")
    draft.write_text(corrected)
    for force in ([], ["--force"]):
        code, _, err = run("profile", capture, "--out", draft, *force)
        assert code == 1
        assert "a person wrote or edited" in err
    assert draft.read_text() == corrected


@pytest.mark.parametrize(("words", "name"), [("study", "along.csv"), ("export", "frame.parquet")])
def test_somebodys_table_in_the_folder_is_found_before_the_work(
    words: str, name: str, tmp_path: Path
) -> None:
    (tmp_path / name).write_text("my own")
    said = refusal(words, "--out", tmp_path)
    assert said == (
        f"{tmp_path / name}: is a table that this program did not write, and that is never "
        "written over; name another file"
    )
    assert (tmp_path / name).read_text() == "my own"
