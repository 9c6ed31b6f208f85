"""The command line as a person meets it: words, exit codes, one-line refusals."""

import ast
import json
import re
import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from demo_data import academy as academy_module
from norms.errors import NormsError
from pipelines import commands
from pipelines.cli import app

SAMPLES = Path(academy_module.__file__).with_name("samples")
LABS = {"north_bay": "North bay", "range_hut": "Range hut"}
CAPTURES = sorted(SAMPLES.glob("*.c3d"))


def run(*words: str | Path) -> tuple[int, str, str]:
    """Exit code, standard output and standard error; a refusal as ``main`` would print it."""
    result = CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=True)
    if isinstance(result.exception, NormsError):
        return 1, result.stdout, result.exception.message
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("cli") / "academy.duckdb"
    code, out, _ = run(
        "roster", SAMPLES / "roster.csv", "--handicaps", SAMPLES / "handicaps.csv", "--store", path
    )
    assert code == 0
    assert "golfers read" in out
    return path


@pytest.fixture(scope="module")
def collected(store: Path) -> dict[str, dict[str, object]]:
    found: dict[str, dict[str, object]] = {}
    for key in LABS:
        report = store.with_name(f"{key}.json")
        code, out, err = run(
            "collect", *CAPTURES, "--store", store,
            "--profile", SAMPLES / f"{key}.toml", "--json", report,
            "--html", store.with_name(f"{key}.html"), "--workers", "1",
        )  # fmt: skip
        assert code == 0
        assert LABS[key] in out
        assert "reading captures" in err
        files = json.loads(report.read_text())["files"]
        # the other lab's files contradict this profile and are refused
        found |= {f["swing"]: f for f in files if f["status"].startswith("accepted")}
    return found


def test_collecting_the_samples_stores_each_once(store: Path, collected) -> None:
    assert len(collected) == 4
    assert {entry["status"] for entry in collected.values()} <= {
        "accepted",
        "accepted_with_warnings",
    }
    code, out, _ = run(
        "collect", *CAPTURES, "--store", store,
        "--profile", SAMPLES / "north_bay.toml",
    )  # fmt: skip
    assert code == 0
    assert "already stored" in " ".join(out.split())


def test_building_says_why_small_cells_are_withheld(store: Path, collected) -> None:
    page = store.with_name("edition.html")
    code, out, _ = run("build", "--store", store, "--edition", "tiny", "--html", page)
    assert code == 0
    assert "withheld" in out
    assert "content hash" in out
    assert "missing more than the rest" in out
    assert page.read_text().startswith("<!DOCTYPE html>")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("build", "--store", "none.duckdb", "--edition", "x"), "there is no store"),
        (("roster", "none.csv", "--store", "{tmp}/a.duckdb"), "none.csv"),
        (("collect", "none.c3d", "--store", "{tmp}/a.duckdb", "--profile", "no.toml"), "no.toml"),
        (("settings", "none.toml", "--store", "{tmp}/a.duckdb"), "none.toml"),
        (("place", "none.c3d", "--store", "{store}", "--edition", "nope"), "none.c3d"),
        (("demo", "{samples}"), "no demo wrote"),
    ],
)
def test_what_cannot_be_done_is_one_line_and_exit_code_one(
    store: Path, tmp_path: Path, words: tuple[str, ...], says: str
) -> None:
    filled = [w.format(tmp=tmp_path, store=store, samples=SAMPLES) for w in words]
    code, _, message = run(*filled)
    assert code == 1
    assert says in message
    assert "\n" not in message.strip()


def bad_captures(folder: Path) -> dict[str, Path]:
    files = {
        "empty_file": folder / "Q0001_2026-05-14_driver_01.c3d",
        "not_a_c3d": folder / "Q0001_2026-05-14_driver_02.c3d",
        "file_name": folder / "swing.c3d",
        "golfer_unknown": folder / "Q9999_2026-05-14_driver_03.c3d",
    }
    sample = CAPTURES[0]
    golfer = sample.name.split("_")[0]
    files = {
        code: path.with_name(path.name.replace("Q0001", golfer)) for code, path in files.items()
    }
    files["empty_file"].write_bytes(b"")
    files["not_a_c3d"].write_text("a text file, whatever its name says\n" * 40)
    files["file_name"].write_bytes(sample.read_bytes() + b"x")
    files["golfer_unknown"].write_bytes(sample.read_bytes() + b"y")
    return files


def test_bad_captures_are_named_with_their_cause(store: Path, tmp_path: Path) -> None:
    files = bad_captures(tmp_path)
    report = tmp_path / "report.json"
    code, out, _ = run(
        "collect", tmp_path, "--store", store,
        "--profile", SAMPLES / "north_bay.toml", "--json", report,
    )  # fmt: skip
    assert code == 1
    found = {Path(f["source"]).name: f for f in json.loads(report.read_text())["files"]}
    for cause, path in files.items():
        assert found[path.name]["code"] == cause
        assert path.name in found[path.name]["message"]
        assert path.name in out.replace("\n", "") or path.name[:12] in out


def test_a_store_is_backed_up_restored_and_its_log_read(store: Path, collected) -> None:
    copy, again = store.with_name("copy.duckdb"), store.with_name("again.duckdb")
    code, out, _ = run("backup", store, copy)
    assert code == 0
    assert "verified" in out
    code, out, _ = run("restore", copy, again, "--who", "analyst")
    assert code == 0
    assert "4 swings" in out
    report = store.with_name("log.json")
    code, out, _ = run("log", "--store", again, "--json", report)
    assert code == 0
    assert "holds together" in out
    actions = [entry["action"] for entry in json.loads(report.read_text())["entries"]]
    assert "collect" in actions
    assert actions[-1] == "restore"


def test_an_erased_golfer_is_gone_and_the_receipt_is_shown_once(store: Path, collected) -> None:
    backup, copy = store.with_name("of-today.duckdb"), store.with_name("erasing.duckdb")
    run("backup", store, backup)
    code, _, message = run(
        "erase", "Q0001", "--store", backup, "--who", "director", "--why", "asked for it"
    )
    assert code == 1
    assert "is a backup" in message
    run("restore", backup, copy, "--who", "director")
    golfer = CAPTURES[0].name.split("_")[0]
    code, out, _ = run(
        "erase", golfer, "--store", copy, "--who", "director", "--why", "asked for it"
    )
    assert code == 0
    assert "shown this once" in out
    code, _, message = run(
        "erase", golfer, "--store", copy, "--who", "director", "--why", "asked for it"
    )
    assert code == 1
    assert "nothing" in message


def test_a_drafted_profile_says_what_is_left_to_decide(tmp_path: Path) -> None:
    draft = tmp_path / "draft.toml"
    code, out, _ = run("profile", CAPTURES[0], "--out", draft)
    assert code == 0
    assert "left for a person to decide" in out
    assert "left_asis" in draft.read_text()


def test_events_are_shown_and_a_correction_needs_who_and_why(store: Path, collected) -> None:
    code, out, _ = run("events", CAPTURES[0], "--store", store)
    assert code == 0
    assert "impact" in out
    code, _, message = run("events", CAPTURES[0], "--store", store, "--top", "1.0")
    assert code == 1
    assert "who" in message


def test_a_file_of_another_name_is_collected_once_golfer_club_and_day_are_stated(tmp_path) -> None:
    store, capture = tmp_path / "s.duckdb", tmp_path / "range.c3d"
    capture.write_bytes(
        next(path for path in CAPTURES if "Q0001_2025-03" in path.name).read_bytes()
    )
    run("roster", SAMPLES / "roster.csv", "--store", store)
    words = ("collect", capture, "--store", store, "--profile", SAMPLES / "north_bay.toml")
    code, out, _ = run(*words)
    assert code == 1
    assert "state --golfer, --club and --date" in " ".join(out.split())
    stated = ("--golfer", "Q0001", "--club", "Iron-7", "--date", "2026-05-14")
    report = tmp_path / "r.json"
    assert run(*words, *stated, "--json", report)[0] == 0
    assert json.loads(report.read_text())["files"][0]["swing"] == "range"
    code, out, _ = run("check", "--store", store, "--lab", "North bay")
    assert "2026-05-14" in out


@pytest.mark.parametrize(
    "words",
    [("--golfer", "Q9999"), ("--club", "putter"), ("--date", "2020-01-01"), ("--hand", "left"),
     ("--profile", str(SAMPLES / "range_hut.toml"))],
)  # fmt: skip
def test_a_stored_swings_label_is_not_dropped_for_another_in_silence(
    store: Path, collected, words: tuple[str, str]
) -> None:
    code, out, message = run("events", CAPTURES[0], "--store", store, *words)
    assert (code, out) == (1, "")
    assert "is stored as swing Q0001_2025-03-25_driver_01" in message


def test_events_are_shown_with_where_each_curve_is_farthest(store: Path, collected) -> None:
    capture = next(path for path in CAPTURES if path.stem in collected)
    code, out, _ = run("events", capture, "--store", store, "--unit", "cm")
    assert code == 0
    for words in ("away from target", "toward ball", "% of the backswing", " cm "):
        assert words in out


def test_ways_to_find_the_hips_are_compared_and_those_not_possible_named() -> None:
    capture = next(path for path in CAPTURES if "Q0001_2025-03" in path.name)
    profile = SAMPLES / "north_bay.toml"
    code, out, _ = run("hips", capture, "--profile", profile, "--hand", "right")
    assert code == 0
    assert "other methods than harrington" in out
    assert re.search(r"(?m)^bell .* in", out)
    assert re.search(r"Not possible here: harrington_full, .*davis; .*leg length", out)


def commands_of(group: object, prefix: str = "") -> list[str]:
    found = []
    for name, command in getattr(group, "commands", {}).items():
        deeper = commands_of(command, f"{prefix}{name} ")
        found += deeper or [f"{prefix}{name}"]
    return found


def test_the_manual_names_every_command_and_only_those() -> None:
    manual = (Path(__file__).parents[2] / "README.md").read_text()
    named = set(re.findall(r"(?m)(?:`|^)norms ((?:standard )?[a-z-]+)", manual))
    existing = set(commands_of(typer.main.get_command(app)))
    assert existing - named == set()
    assert named - existing == set()


@pytest.mark.parametrize("words", [("frobnicate",), ("build",), ("place", "x", "--unit", "yd")])
def test_words_that_are_not_understood_exit_with_two(words: tuple[str, ...]) -> None:
    code, _, _ = run(*words)
    assert code == 2


def test_an_impossible_handicap_is_refused_with_what_is_allowed(store: Path) -> None:
    code, _, err = run("place", "x.c3d", "--store", store, "--edition", "e", "--handicap", "99")
    assert code == 2
    assert "+10 to 54.0" in " ".join(err.split())


def test_the_console_command_is_installed_and_answers_without_heavy_libraries() -> None:
    assert any(point.name == "norms" for point in entry_points(group="console_scripts"))
    heavy = ("numpy", "pandas", "duckdb", "matplotlib", "scipy", "sklearn", "statsmodels")
    script = (
        "import sys; from pipelines.cli import app\n"
        f"print([m for m in {heavy!r} if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stderr


def test_what_all_would_not_do_is_refused_and_not_dropped(tmp_path: Path) -> None:
    code, _, err = run(
        "place", "--all", "--store", tmp_path / "none.duckdb", "--edition", "x",
        "--json", tmp_path / "a.json", "--html", tmp_path / "a.html",
    )  # fmt: skip
    assert code == 2
    assert "--html, --json do not apply with --all" in " ".join(err.replace("│", " ").split())
    assert list(tmp_path.iterdir()) == []


def test_placing_loads_no_statistics_packages() -> None:
    script = (
        "import sys; import pipelines.place_sheet, reports.sheet_page\n"
        "print([m for m in ('statsmodels', 'sklearn', 'seaborn', 'pandas') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stderr


def test_a_refusal_in_a_real_process_is_one_line_and_no_traceback() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from pipelines.cli import main; main()",
         "build", "--store", "none.duckdb", "--edition", "x"],
        capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith("norms: none.duckdb")


def outputs(command: Any, words: tuple[str, ...] = ()) -> list[tuple[str, str]]:
    """Every option that names what is to be written, with the words that call its command."""
    inner = getattr(command, "commands", None)
    if inner is not None:
        return [one for name, part in inner.items() for one in outputs(part, (*words, name))]
    named = [option for parameter in command.params for option in parameter.opts]
    written = ("--html", "--json", "--csv", "--pdf", "--details", "--out")
    return [(" ".join(words), option) for option in named if option in written]


OUTPUTS = outputs(typer.main.get_command(app))


@pytest.mark.parametrize(("words", "option"), OUTPUTS)
def test_what_cannot_be_written_is_refused_before_the_work(
    words: str, option: str, tmp_path: Path
) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("")
    assert len(OUTPUTS) > 20
    # Nothing else is given, no store and no capture: the output is looked at before them.
    code, out, err = run(*words.split(), option, in_the_way / "sub")
    assert code == 1
    assert out == ""
    assert "sub: cannot be written" in err


def test_a_folder_is_no_file_to_write_and_the_refusal_names_what_is_missing(
    tmp_path: Path,
) -> None:
    code, _, err = run("log", "--json", tmp_path, "--store", tmp_path / "s.duckdb")
    assert (code, err) == (1, f"{tmp_path}: cannot be written: it is a folder; name a file in it")
    missing = tmp_path / "none" / "log.json"
    code, _, err = run("log", "--json", missing, "--store", tmp_path / "s.duckdb")
    assert (code, err) == (
        1, f"{missing}: cannot be written: there is no folder {tmp_path / 'none'}"
    )  # fmt: skip


@pytest.mark.parametrize("file", sorted(Path(commands.__file__).parent.glob("*.py")), ids=str)
def test_files_are_written_before_anything_is_printed(file: Path) -> None:
    """A reader who stops reading (``norms progress … | head``) loses no file."""
    for function in ast.walk(ast.parse(file.read_text())):
        if not isinstance(function, ast.FunctionDef):
            continue
        calls = [
            (call.lineno, call.func.id)
            for call in ast.walk(function)
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Name)
            if all(word.arg != "file" for word in call.keywords)  # that is to standard error
        ]
        written = [line for line, name in calls if name.startswith("write_")]
        printed = [line for line, name in calls if name.startswith(("print", "_print"))]
        if written and printed:
            assert max(written) < min(printed), function.name
