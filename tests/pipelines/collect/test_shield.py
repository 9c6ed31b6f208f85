"""A worker may crash, hang or run out of memory: its file is refused, the others are not."""

import sys
import textwrap
from datetime import date
from pathlib import Path

import pytest

from norms.errors import CaptureRefused, NormsError
from norms.records import SwingLabel
from pipelines.collect.file_work import FileWork, Limits
from pipelines.collect.profile import load_profile
from pipelines.collect.shield import WorkerPool, shielded_swing

SHORT = Limits(seconds=0.5, memory_bytes=100_000_000)

FAKE_JOB = """
import os, signal, time
from norms.errors import SwingRefused

def prepare(work):
    pass

def job(work, given):
    name = work.path.name
    if name.startswith("crash"):
        os.kill(os.getpid(), signal.SIGSEGV)
    if name.startswith("hang"):
        signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
        while True:
            pass
    if name.startswith("waits"):
        time.sleep(60.0)
    if name.startswith("late"):
        time.sleep(0.8)
    if name.startswith("greedy"):
        return len(bytearray(10**9))
    if name.startswith("exit"):
        os._exit(3)
    if name.startswith("gone"):
        work.path.with_suffix(".none").read_bytes()
    if name.startswith("odd"):
        raise ZeroDivisionError("secret detail\\nof two lines")
    if name.startswith("refuse"):
        raise SwingRefused("no impact", code="no_impact")
    if name.startswith("noisy"):
        print("a library talks to standard output", flush=True)
        os.write(1, b"and so does compiled code")
    if name.startswith("slow"):
        time.sleep(0.2)
    return (name, given)
"""


@pytest.fixture
def pool_with(tmp_path, monkeypatch):
    """A pool whose workers do the fake job above."""
    (tmp_path / "fake_job.py").write_text(textwrap.dedent(FAKE_JOB))
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))

    def build(workers=1, **changes):
        names = {"job": "fake_job:job", "prepare": "fake_job:prepare"} | changes
        return WorkerPool("given", workers=workers, limits=SHORT, **names)

    return build


@pytest.fixture
def work(tmp_path):
    def build(name):
        path = tmp_path / name
        path.write_bytes(b"content")
        return FileWork(path=path, label=label_of(name), hand="right")

    return build


def label_of(name):
    return SwingLabel(
        swing=Path(name).stem,
        golfer="Q0001",
        club="driver",
        recorded_on=date(2026, 3, 2),
        lab="North bay",
        source=name,
        content_hash="0f",
    )


@pytest.mark.parametrize(
    ("name", "code", "words"),
    [
        ("crash.c3d", "reader_crashed", "SIGSEGV"),
        ("exit.c3d", "reader_crashed", "exit 3"),
        ("hang.c3d", "reader_hung", "does not come to an end"),
        ("waits.c3d", "reader_hung", "does not come to an end"),
        ("odd.c3d", "reader_failed", "ZeroDivisionError"),
        ("gone.c3d", "unreadable", "No such file or directory; check the path"),
        ("refuse.c3d", "no_impact", "no impact"),
        pytest.param(
            "greedy.c3d",
            "reader_memory",
            "100 MB",
            marks=pytest.mark.skipif(
                sys.platform != "linux", reason="memory is limited on Linux only"
            ),
        ),
    ],
)
def test_the_file_is_refused_in_one_line_and_its_neighbours_are_not(
    pool_with, work, name, code, words
):
    works = [work("a.c3d"), work(name), work("b.c3d"), work("c.c3d")]
    with pool_with() as pool:
        results = [result for _, result in pool.run(works)]
    assert [results[0], *results[2:]] == [(w, "given") for w in ("a.c3d", "b.c3d", "c.c3d")]
    refusal = results[1]
    assert isinstance(refusal, NormsError)
    assert refusal.code == code
    assert refusal.message.startswith(f"{name}: ")
    assert words in refusal.message
    assert "\n" not in refusal.message
    assert "secret" not in refusal.message


def test_a_file_that_only_waits_for_its_turn_is_not_refused(pool_with, work):
    """The limit is on the processor's time: a busy machine must not refuse sound files."""
    with pool_with() as pool:
        ((_, result),) = pool.run([work("late.c3d")])
    assert result == ("late.c3d", "given")


@pytest.mark.parametrize("workers", [1, 3])
def test_results_keep_the_order_of_the_files(pool_with, work, workers):
    names = ["slow1", "a", "crash", "b", "slow2", "hang", "noisy", "d", "e", "f"]
    works = [work(f"{name}.c3d") for name in names]
    with pool_with(workers) as pool:
        answers = list(pool.run(works))
    assert [item for item, _ in answers] == works
    refused = [
        name for name, (_, r) in zip(names, answers, strict=True) if isinstance(r, NormsError)
    ]
    assert refused == ["crash", "hang"]


def test_items_that_are_no_work_pass_through_in_their_place(pool_with, work):
    items = ["first", work("slow.c3d"), "second", *range(200), work("a.c3d"), "last"]
    with pool_with(2) as pool:
        answers = list(pool.run(iter(items)))
    assert [item for item, _ in answers] == items
    assert [result for _, result in answers if result is not None] == [
        ("slow.c3d", "given"),
        ("a.c3d", "given"),
    ]


def test_every_file_may_crash(pool_with, work):
    with pool_with(2) as pool:
        results = [r for _, r in pool.run([work(f"crash{i}.c3d") for i in range(5)])]
    assert [result.code for result in results] == ["reader_crashed"] * 5


def test_a_worker_that_cannot_start_is_an_error_of_the_program_not_of_a_file(pool_with, work):
    pool = pool_with(job="no_such_module:job")
    with pool, pytest.raises(RuntimeError, match=r"cannot start: .*no_such_module"):
        list(pool.run([work("a.c3d")]))


def test_a_large_file_may_take_longer(tmp_path):
    small, large = tmp_path / "a", tmp_path / "b"
    small.write_bytes(b"x")
    large.write_bytes(bytes(4_000_000))
    assert Limits(seconds=2).seconds_for(small) == pytest.approx(2, abs=0.01)
    assert Limits(seconds=2).seconds_for(large) == pytest.approx(4)


def test_one_real_capture_becomes_a_swing_behind_the_shield(captures, north_bay, tmp_path):
    path = captures.write_c3d(tmp_path / "a.c3d")
    work = FileWork(path=path, label=label_of("a.c3d"), hand="right")
    swing = shielded_swing(work, load_profile(north_bay))
    assert swing.label == label_of("a.c3d")
    assert swing.hand == "right"
    # still for 0.5 s; top 0.8 s and impact 1.05 s after the start (see conftest)
    assert swing.events.top.time_s == pytest.approx(1.3, abs=1 / 120)
    assert swing.events.impact.time_s == pytest.approx(1.55, abs=1 / 120)
    with pytest.raises(CaptureRefused, match=r"^a\.c3d: at address .* left-handed") as caught:
        shielded_swing(FileWork(path=path, label=work.label, hand="left"), load_profile(north_bay))
    assert caught.value.code == "faces_away"


def test_damaged_files_never_bring_the_run_down(captures, north_bay, tmp_path):
    """A small fuzz of whole files: cut, overwritten, and false counts that pass the checks."""
    import numpy as np

    rng = np.random.default_rng(11)
    sound = captures.write_c3d(tmp_path / "sound.c3d", events={"impact": 1.55}).read_bytes()
    works = []
    for i in range(40):
        content = bytearray(sound)
        for at in rng.integers(0, 3 * 512 if i % 2 else len(sound), size=rng.integers(1, 20)):
            content[at] = rng.integers(256)
        if i % 4 == 0:
            del content[rng.integers(len(content)) :]
        path = tmp_path / f"damaged{i}.c3d"
        path.write_bytes(content)
        works.append(FileWork(path=path, label=label_of(path.name), hand="right"))
    sound_work = FileWork(path=tmp_path / "sound.c3d", label=label_of("sound.c3d"), hand="right")
    with WorkerPool(load_profile(north_bay), workers=2) as pool:
        answers = list(pool.run([*works, sound_work]))
    assert len(answers) == 41
    for item, result in answers[:-1]:
        if isinstance(result, NormsError):
            assert result.message.startswith(item.path.name)
            assert "\n" not in result.message
    assert not isinstance(answers[-1][1], NormsError)
