"""Every command says for what it uses golfers' data, and its job asks for just that."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest
import typer

from norms.records.consent import PURPOSES
from pipelines.cli import app
from pipelines.uses import USES

ROOT = Path(__file__).parents[2]
ASKING = re.compile(
    r"\b(?:consenting|refuse_without_consent|agreed_rows)\([^()]*?\"(\w+)\"", re.DOTALL
)
FOR_ANY = {"may_be_measured", "refuse_unmeasured"}
READING = re.compile(
    r"\.swing_pool\(|store\.swing\(|golfer_shelf\.swings\(|review_swings\(|shielded_swing\("
    r"|WorkerPool\(|\.feature_cohort\("
)


def commands_of(group, prefix=""):
    for name, command in getattr(group, "commands", {}).items():
        if deeper := list(commands_of(command, f"{prefix}{name} ")):
            yield from deeper
        else:
            yield f"{prefix}{name}", command.callback


COMMANDS = dict(commands_of(typer.main.get_command(app)))


def source_of(module):
    path = ROOT / Path(*module.split("."))
    return path.with_suffix(".py") if path.with_suffix(".py").exists() else path / "__init__.py"


def jobs_named_in(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield from (f"{node.module}.{one.name}" for one in node.names)
            yield node.module
        elif isinstance(node, ast.Import):
            yield from (one.name for one in node.names)


def is_job(module):
    return (
        module.startswith("pipelines.")
        and not module.startswith(("pipelines.store", "pipelines.commands", "pipelines.uses"))
        and source_of(module).exists()
    )


@cache
def reached_from(module):
    """The modules of jobs that a module imports, itself among them, at whatever depth."""
    found, waiting = set(), [module]
    while waiting:
        one = waiting.pop()
        if one not in found:
            found.add(one)
            tree = ast.parse(source_of(one).read_text())
            waiting += [name for name in jobs_named_in(tree) if is_job(name)]
    return frozenset(found)


def jobs_of(command):
    """The modules of jobs of a command, helpers of its own module included."""
    function = COMMANDS[command]
    tree = ast.parse(source_of(function.__module__).read_text())
    inside = {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}
    seen, waiting, jobs = set(), [function.__name__], set()
    while waiting:
        name = waiting.pop()
        if name in seen or name not in inside:
            continue
        seen.add(name)
        jobs |= {one for one in jobs_named_in(inside[name]) if is_job(one)}
        waiting += [node.id for node in ast.walk(inside[name]) if isinstance(node, ast.Name)]
    return frozenset().union(*(reached_from(job) for job in jobs)) if jobs else frozenset()


def asked_in(text):
    asked = set(ASKING.findall(text)) & set(PURPOSES)
    return asked | ({"coaching", "norms", "research"} if any(w in text for w in FOR_ANY) else set())


def test_every_command_says_for_what_it_uses_golfers_data():
    assert set(USES) == set(COMMANDS)
    assert all(one.because for one in USES.values())


@pytest.mark.parametrize("command", sorted(USES))
def test_the_job_of_a_command_asks_for_every_purpose_it_states(command):
    texts = [source_of(job).read_text() for job in jobs_of(command)]
    asked = set().union(*map(asked_in, texts)) if texts else set()
    assert set(USES[command].purposes) <= asked


@pytest.mark.parametrize("command", sorted(USES))
def test_a_command_whose_job_reaches_swings_says_so(command):
    reaching = sorted(job for job in jobs_of(command) if READING.search(source_of(job).read_text()))
    assert USES[command].reads_swings == bool(reaching), reaching


def test_the_table_for_developers_is_this_one():
    rows = re.findall(r"^\| `norms ([a-z -]+)` \| (.*?) \| (.*?) \|$", handbook(), re.MULTILINE)
    told = {name: (asked, because) for name, asked, because in rows}
    assert told == {
        name: (", ".join(use.purposes) or "–", use.because) for name, use in USES.items()
    }


def handbook():
    return (ROOT / "DEVELOPERS.md").read_text()
