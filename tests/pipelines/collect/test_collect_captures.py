"""The collecting job: what becomes of each file, and of the store when the run is cut off."""

import signal
import subprocess
import sys
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from norms.records import Golfer
from norms.records.consent import Consent
from pipelines import collect_captures as module
from pipelines.collect.profile import load_profile
from pipelines.collect_captures import expand_paths
from pipelines.store import open_store


def collect_captures(paths, store, profile, **given):
    """With one worker unless told otherwise: starting one costs more than these few files."""
    return module.collect_captures(paths, store, profile, **({"workers": 1} | given))


@pytest.fixture
def profile(north_bay):
    return load_profile(north_bay)


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "norms.store", create=True) as opened:
        opened.add_golfers([Golfer(code="Q0001", hand="right"), Golfer(code="Q0002", hand="left")])
        yield opened


@pytest.fixture
def capture(captures, tmp_path):
    """Write one capture of Q0001; each number gives other content."""
    folder = tmp_path / "captures"
    folder.mkdir()

    def build(number, *, golfer="Q0001", suffix=".c3d", shift_mm=None):
        points = captures.swing_points_mm() + (number if shift_mm is None else shift_mm)
        path = folder / f"{golfer}_2026-03-02_driver_{number:02d}{suffix}"
        if suffix == ".csv":
            return captures.write_csv(path, points, list(captures.LABELS.values()))
        return captures.write_c3d(path, points)

    return build


def test_files_of_every_format_become_the_same_swing(store, profile, capture):
    paths = [capture(1), capture(2, suffix=".csv", shift_mm=1)]
    outcomes = collect_captures(paths, store, profile)
    assert [outcome.status for outcome in outcomes] == ["accepted", "accepted"]
    one, two = (store.swing(outcome.swing) for outcome in outcomes)
    assert one.label.club == "driver"
    assert one.label.lab == "North bay"
    np.testing.assert_allclose(one.curve.values_cm, two.curve.values_cm, atol=1e-3)
    assert outcomes == store.outcomes()


def test_the_same_content_is_stored_once_and_the_stored_swing_is_named(store, profile, capture):
    first, twin = capture(1), capture(2, shift_mm=1)
    assert first.read_bytes() == twin.read_bytes()
    outcomes = collect_captures([first, twin], store, profile)
    assert [outcome.status for outcome in outcomes] == ["accepted", "duplicate"]
    assert outcomes[1].swing == outcomes[0].swing == first.stem
    assert first.stem in outcomes[1].message
    (again,) = collect_captures([twin], store, profile)
    assert (again.status, again.swing) == ("duplicate", first.stem)
    assert store.swing_codes() == {first.stem}


def test_no_capture_is_kept_of_who_agrees_to_nothing_it_could_serve(store, profile, capture):
    store.add_golfers([Golfer(code="Q0002", hand="right", birth_year=2015)])
    words = [says("Q0001", purpose, False) for purpose in ("coaching", "norms")]
    store.consents.add(words)
    files = [capture(1), capture(2, golfer="Q0002")]
    for outcome in collect_captures(files, store, profile):
        assert (outcome.status, outcome.code) == ("rejected", "no_consent")
        assert "agrees to neither coaching, norms nor research" in outcome.message
    store.consents.add([says("Q0001", "research"), says("Q0002", "coaching", guardian=True)])
    assert [one.code for one in collect_captures(files, store, profile)] == ["ok", "ok"]


def says(golfer, purpose, given=True, *, guardian=False):
    return Consent(
        golfer=golfer,
        purpose=purpose,
        given=given,
        decided_on=date(2026, 1, 1),
        guardian=guardian,
    )


def test_a_golfer_who_is_not_in_the_roster_is_told_what_to_do(store, profile, capture):
    (outcome,) = collect_captures([capture(1, golfer="Q0999")], store, profile)
    assert (outcome.status, outcome.code) == ("rejected", "golfer_unknown")
    assert "Q0999" in outcome.message
    assert "add the golfer to the roster" in outcome.message
    store.add_golfers([Golfer(code="Q0999", hand="right")])
    (outcome,) = collect_captures([capture(1, golfer="Q0999")], store, profile)
    assert outcome.status == "accepted"


def test_the_hand_comes_from_the_roster_and_may_be_stated(store, profile, capture):
    path = capture(1, golfer="Q0002")
    (outcome,) = collect_captures([path], store, profile)
    assert outcome.code == "faces_away"
    (outcome,) = collect_captures([path], store, profile, hand="right")
    assert outcome.status == "accepted"


def test_a_code_that_is_taken_by_other_content_is_refused(store, profile, capture):
    path = capture(1)
    collect_captures([path], store, profile)
    capture(1, shift_mm=7)
    (outcome,) = collect_captures([path], store, profile)
    assert (outcome.status, outcome.code) == ("rejected", "swing_code_taken")
    assert "rename" in outcome.message


def test_two_files_of_one_name_in_one_run_do_not_both_become_swings(store, profile, capture):
    first, other = capture(1), capture(1, suffix=".csv", shift_mm=5)
    outcomes = collect_captures([first, other], store, profile)
    assert [outcome.code for outcome in outcomes] == ["ok", "swing_code_taken"]


def test_bad_files_are_rejected_in_one_line_and_the_rest_is_stored(
    store, profile, capture, tmp_path
):
    folder = tmp_path / "captures"
    empty = folder / "Q0001_2026-03-02_driver_50.c3d"
    empty.write_bytes(b"")
    text = folder / "Q0001_2026-03-02_driver_51.c3d"
    text.write_text("not motion")
    film = folder / "Q0001_2026-03-02_driver_52.mpg"
    film.write_bytes(b"x")
    unnamed = folder / "swing.c3d"
    unnamed.write_bytes(b"P" * 600)
    gone = folder / "Q0001_2026-03-02_driver_53.c3d"
    good = capture(1)
    outcomes = collect_captures([empty, text, film, unnamed, gone, good], store, profile)
    codes = [outcome.code for outcome in outcomes]
    assert codes == [
        "empty_file",
        "not_a_c3d",
        "unknown_format",
        "file_name",
        "unreadable",
        "ok",
    ]
    for outcome in outcomes[:-1]:
        assert outcome.status == "rejected"
        assert outcome.message.startswith(Path(outcome.source).name)
        assert "\n" not in outcome.message
    assert store.swing_codes() == {good.stem}


def test_a_swing_that_the_store_refuses_does_not_take_its_batch_along(
    store, profile, capture, monkeypatch
):
    """The store has the last word; here it does not know a golfer that the run believes in."""
    known = dict(store.golfers())
    known["Q0003"] = Golfer(code="Q0003", hand="right")
    monkeypatch.setattr(type(store), "golfers", lambda self: known)
    paths = [capture(1), capture(2, golfer="Q0003"), capture(3)]
    outcomes = collect_captures(paths, store, profile)
    assert [outcome.code for outcome in outcomes] == ["ok", "golfer_unknown", "ok"]
    assert store.swing_codes() == {paths[0].stem, paths[2].stem}
    assert store.outcomes() == outcomes


def test_a_folder_gives_its_captures_in_order_of_name(capture, tmp_path):
    paths = [capture(2), capture(1), capture(3, suffix=".csv")]
    (tmp_path / "captures" / "notes.txt").write_text("not a capture")
    assert expand_paths([tmp_path / "captures"]) == sorted(paths)
    assert expand_paths([paths[0], tmp_path / "none.c3d"]) == [paths[0], tmp_path / "none.c3d"]


def test_progress_counts_every_file(store, profile, capture):
    seen = []
    paths = [capture(1), capture(2, shift_mm=1), capture(3, golfer="Q0999")]
    collect_captures(paths, store, profile, progress=lambda done, total: seen.append((done, total)))
    assert seen == [(1, 3), (2, 3), (3, 3)]


@pytest.mark.parametrize("workers", [1, 2])
def test_the_number_of_workers_changes_nothing(profile, capture, tmp_path, workers):
    paths = [capture(number) for number in range(1, 6)]
    with open_store(tmp_path / f"{workers}.store", create=True) as opened:
        opened.add_golfers([Golfer(code="Q0001", hand="right")])
        outcomes = collect_captures(paths, opened, profile, workers=workers)
        assert [outcome.swing for outcome in outcomes] == [path.stem for path in paths]


def test_more_known_duplicates_than_may_run_ahead_come_to_an_end(store, profile, capture):
    path = capture(1)
    collect_captures([path], store, profile)
    outcomes = collect_captures([path] * 200, store, profile)
    assert [outcome.status for outcome in outcomes] == ["duplicate"] * 200


def test_ctrl_c_keeps_what_is_finished_and_the_run_can_be_repeated(store, profile, capture):
    paths = [capture(number) for number in range(1, 8)]

    def stop(done, total):
        if done == 4:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        collect_captures(paths, store, profile, progress=stop)
    assert len(store.swing_codes()) == 4
    outcomes = collect_captures(paths, store, profile)
    assert [outcome.status for outcome in outcomes] == ["duplicate"] * 4 + ["accepted"] * 3
    assert store.swing_codes() == {path.stem for path in paths}


KILLED = """
import os, signal, sys
from pathlib import Path
from pipelines import collect_captures as module
from pipelines.collect.profile import load_profile
from pipelines.store import open_store

store, profile, folder = sys.argv[1:]
module.BATCH = 3

def kill(done, total):
    if done == 5:
        os.kill(os.getpid(), signal.SIGKILL)

with open_store(store) as opened:
    profile = load_profile(Path(profile))
    module.collect_captures([Path(folder)], opened, profile, workers=1, progress=kill)
"""


def test_a_run_that_was_killed_leaves_whole_batches_and_can_be_repeated(
    north_bay, profile, capture, tmp_path, monkeypatch
):
    paths = [capture(number) for number in range(1, 8)]
    path = tmp_path / "killed.store"
    with open_store(path, create=True) as opened:
        opened.add_golfers([Golfer(code="Q0001", hand="right")])
    script = [sys.executable, "-c", KILLED, str(path), str(north_bay), str(tmp_path / "captures")]
    done = subprocess.run(script, capture_output=True, timeout=60, check=False)
    assert done.returncode == -signal.SIGKILL, done.stderr.decode()
    with open_store(path) as opened:
        assert opened.swing_codes() == {one.stem for one in paths[:3]}
        assert [outcome.status for outcome in opened.outcomes()] == ["accepted"] * 3
        monkeypatch.setattr(module, "BATCH", 3)
        outcomes = collect_captures([tmp_path / "captures"], opened, profile)
        assert [outcome.status for outcome in outcomes] == ["duplicate"] * 3 + ["accepted"] * 4
        assert opened.swing_codes() == {one.stem for one in paths}


@pytest.mark.parametrize(
    ("given", "code", "words"),
    [
        ({"recorded_on": date(2062, 3, 2)}, "day", "2062-03-02 is after today"),
        ({"recorded_on": date(1949, 3, 2)}, "day", "is before 1950"),
        ({"recorded_on": date(1979, 3, 2)}, "day", "before the golfer was born (1980"),
        ({"club": "---"}, "club_unknown", "names no club"),
    ],
)
def test_a_day_or_club_that_cannot_be_rejects_the_file_and_no_other(
    store, profile, capture, given, code, words
):
    store.add_golfers([Golfer(code="Q0001", hand="right", birth_year=1980)])
    (outcome,) = collect_captures([capture(1)], store, profile, **given)
    assert (outcome.status, outcome.code) == ("rejected", code)
    assert words in outcome.message
    assert collect_captures([capture(2)], store, profile)[0].status == "accepted"


def test_a_day_in_a_files_name_is_held_against_the_calendar(store, profile, capture):
    path = capture(1)
    later = path.rename(path.with_name(path.name.replace("2026-03-02", "2062-03-02")))
    (outcome,) = collect_captures([later], store, profile)
    assert (outcome.code, store.swing_codes()) == ("day", set())


def test_a_club_is_kept_as_the_store_has_it_and_a_new_one_is_let_in_by_a_person(
    store, profile, capture
):
    collect_captures([capture(1)], store, profile, club="Iron-7")
    (outcome,) = collect_captures([capture(2)], store, profile, club="IRON7")
    assert store.swing(outcome.swing).label.club == "iron 7"
    (outcome,) = collect_captures([capture(3)], store, profile, club="iron 8")
    assert outcome.code == "club_unknown"
    assert 'did you mean "iron 7"?' in outcome.message
    (outcome,) = collect_captures([capture(3)], store, profile, club="iron 8", new_clubs=["Iron-8"])
    assert store.swing(outcome.swing).label.club == "iron 8"
    assert store.door.clubs() == ["iron 7", "iron 8"]
