"""What the academy writes: C3D files that say what they should, tables, faults, and twice alike."""

import csv
from collections import Counter
from pathlib import Path

import ezc3d
import numpy as np
import pytest

import demo_data
from demo_data.academy import FIRST_STAFF, STAFF_PER_LAB, write_academy
from demo_data.calendar import ASKEW_DEG, calendar_for
from demo_data.captures import noisy_points
from demo_data.excerpt import WANTED, write_samples
from demo_data.faults import FAULT_KINDS, STRANGER
from demo_data.labs import LAB_KEYS, ORIGIN_CM, load_lab
from demo_data.tables import write_consents
from norms.errors import NormsError
from norms.records import Golfer
from norms.synthetic import marker_paths
from norms.units import CM_PER_UNIT

GOLFERS = 8
SAMPLES = Path(demo_data.__file__).with_name("samples")


@pytest.fixture(scope="module")
def academy(tmp_path_factory):
    folder = tmp_path_factory.mktemp("academy")
    calls = []
    truth = write_academy(
        folder, seed=5, golfers=GOLFERS, progress=lambda done, total: calls.append((done, total))
    )
    everyone = GOLFERS + len(LAB_KEYS) * STAFF_PER_LAB
    assert calls == [(done, everyone) for done in range(1, everyone + 1)]
    return folder, truth


def files_of(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def rows_of(file):
    with file.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def read(file):
    """Points in canonical cm by role, shape (t, 3), worked out with the axes spelled out here."""
    c3d = ezc3d.c3d(str(file))
    lab = load_lab(file.parent.name)
    points = c3d["data"]["points"][:3].transpose(1, 2, 0) * CM_PER_UNIT[lab.unit]
    if lab.key == "range_hut":  # lab x away from the target, y up, z = canonical y
        points = np.stack([-points[..., 0], points[..., 2], points[..., 1]], axis=-1)
    labels = c3d["parameters"]["POINT"]["LABELS"]["value"]
    role_of = {label: role for role, label in lab.labels.items()}
    origin = np.array(ORIGIN_CM[lab.key])
    return c3d, {role_of[label]: path - origin for label, path in zip(labels, points, strict=True)}


def captures(folder, truth, *, askew):
    """Golfer, swing and file of the sessions captured well, or of the one that was not."""
    for golfer in (*truth.golfers, *truth.staff):
        for swing in golfer.swings:
            if ((swing.lab, swing.recorded_on) == truth.askew) == askew:
                yield golfer, swing, folder / f"captures/{swing.lab}/{swing.code}.c3d"


def good_captures(folder, truth):
    return captures(folder, truth, askew=False)


def test_the_same_seed_writes_the_same_bytes_for_any_number_of_workers(academy, tmp_path):
    folder, truth = academy
    again = write_academy(tmp_path / "again", seed=5, golfers=GOLFERS, workers=2)
    assert files_of(tmp_path / "again") == files_of(folder)
    assert again.faults == truth.faults
    assert again.patterns == truth.patterns


def test_another_seed_writes_other_swings(academy, tmp_path):
    folder, _ = academy
    write_academy(tmp_path / "other", seed=6, golfers=1)
    mine, others = files_of(folder), files_of(tmp_path / "other")
    common = [name for name in mine.keys() & others.keys() if name.startswith("captures")]
    assert common  # staff swing on the same days
    assert all(mine[name] != others[name] for name in common)


def test_captures_read_back_as_the_true_paths_within_the_noise(academy):
    folder, truth = academy
    labs, hands = set(), set()
    for golfer, swing, file in good_captures(folder, truth):
        _, points = read(file)
        hand = golfer.person.golfer.hand
        times = truth.truth_of(swing.code).times_s
        for role, path in marker_paths(swing.parameters, swing.body, times, hand).items():
            error = points[role] - path
            assert error.shape == path.shape
            assert np.nanstd(error) < 0.15, (file.name, role)
            assert np.nanmax(np.abs(error)) < 0.6, (file.name, role)
            assert np.isnan(error).mean() < 0.05
        labs.add(swing.lab)
        hands.add(hand)
    assert labs == set(LAB_KEYS)
    assert "right" in hands


def test_one_session_is_captured_with_its_axes_turned(academy):
    folder, truth = academy
    askew = list(captures(folder, truth, askew=True))
    assert {golfer.person.golfer.code for golfer, _, _ in askew} >= {
        one.person.golfer.code for one in truth.staff if one.swings[0].lab == truth.askew[0]
    }
    for golfer, swing, file in askew:
        _, points = read(file)
        path = marker_paths(swing.parameters, swing.body, np.zeros(1), golfer.person.golfer.hand)
        feet = [path["left_foot"][0] - path["right_foot"][0]]
        feet.append(np.nanmean(points["left_foot"] - points["right_foot"], axis=0))
        x, y = feet[1][:2]
        assert np.degrees(np.arctan2(y, x)) == pytest.approx(ASKEW_DEG, abs=0.2)
        assert np.linalg.norm(feet[1]) == pytest.approx(np.linalg.norm(feet[0]), abs=0.1)


def test_the_labs_staff_swing_in_every_session_of_their_lab(academy):
    _, truth = academy
    calendar = calendar_for(GOLFERS)
    for lab in LAB_KEYS:
        own = [one for one in truth.staff if one.swings[0].lab == lab]
        assert len(own) == STAFF_PER_LAB
        for one in own:
            assert tuple(swing.recorded_on for swing in one.swings) == calendar.every_day(lab)
            assert {(swing.lab, swing.club) for swing in one.swings} == {(lab, "driver")}
    open_on = {(lab, day) for lab in LAB_KEYS for day in calendar.every_day(lab)}
    assert truth.askew in open_on
    assert {(s.lab, s.recorded_on) for one in truth.golfers for s in one.swings} <= open_on


def test_each_lab_states_its_own_unit_rate_and_events(academy):
    folder, truth = academy
    for _, swing, file in good_captures(folder, truth):
        c3d, _ = read(file)
        parameters = c3d["parameters"]
        if swing.lab == "north_bay":
            assert parameters["POINT"]["UNITS"]["value"] == ["mm"]
            assert parameters["POINT"]["RATE"]["value"][0] == 240
            assert parameters["EVENT"]["LABELS"]["value"] == ["Impact"]
            minutes, seconds = parameters["EVENT"]["TIMES"]["value"][:, 0]
            impact = truth.truth_of(swing.code).events_s["impact"]
            assert 60 * minutes + seconds == pytest.approx(impact, abs=1e-5)
        else:
            assert parameters["POINT"]["UNITS"]["value"] == ["m"]
            assert parameters["POINT"]["RATE"]["value"][0] == 120
            assert "EVENT" not in parameters


def test_no_file_carries_the_signature_of_the_writing_library(academy):
    folder, truth = academy
    for _, _, file in good_captures(folder, truth):
        group = ezc3d.c3d(str(file))["parameters"]["EZC3D"]
        for name in ("VERSION", "CONTACT"):
            assert "".join(group[name]["value"]).strip() == ""


def test_gaps_read_back_as_missing_points_and_are_short(academy):
    _, truth = academy
    swing = truth.golfers[0].swings[0]
    rate = load_lab(swing.lab).rate_hz
    gaps = []
    for seed in range(300):
        points = noisy_points(swing, "right", np.random.default_rng(seed))
        unseen = np.array([np.isnan(path).any(axis=1).sum() for path in points.values()])
        gaps.append(unseen.sum())
        assert (unseen > 0).sum() <= 1
    gaps = np.array(gaps)
    assert 0.01 < (gaps > 0).mean() < 0.09
    assert gaps.max() / rate < 0.1


def test_every_fault_is_there_in_both_labs_and_is_what_it_claims(academy):
    folder, truth = academy
    assert {(f.kind, f.file.split("/")[1]) for f in truth.faults} == {
        (kind, lab) for kind in FAULT_KINDS for lab in LAB_KEYS
    }
    good = {swing.code for swing in truth.swings.values()}
    for fault in truth.faults:
        file = folder / fault.file
        assert file.stem == fault.swing
        assert fault.swing not in good
        FAULT_CHECKS[fault.kind](folder, file, fault)


def is_dropped(folder, file, fault):
    _, points = read(file)
    assert [role for role, path in points.items() if np.isnan(path).all()] == ["left_psis"]


def is_swapped(folder, file, fault):
    _, points = read(file)
    right = points["right_asis"][0] - points["left_asis"][0]
    ahead = points["right_asis"][0] - points["right_psis"][0]
    assert np.cross(right, ahead)[2] < 0  # the pelvis stands on its head


def is_metres(folder, file, fault):
    c3d, _ = read(file)
    assert c3d["parameters"]["POINT"]["UNITS"]["value"] == ["mm"]
    assert np.nanmax(np.abs(c3d["data"]["points"][:3])) < 10


def is_early(folder, file, fault):
    c3d, points = read(file)
    assert "EVENT" not in c3d["parameters"]
    club = points["club_head"]
    distance = np.linalg.norm(club - club[0], axis=1)
    assert distance[-1] > 20
    assert distance.argmax() < len(club) - 1


def is_duplicate(folder, file, fault):
    assert file.read_bytes() == (folder / fault.same_as).read_bytes()
    assert file != folder / fault.same_as


def is_cut(folder, file, fault):
    whole = next(
        path for path in file.parent.glob(f"{fault.swing[:5]}*.c3d") if path.stem[-2:] < "90"
    )
    assert 0.5 < file.stat().st_size / whole.stat().st_size < 0.7


def is_stranger(folder, file, fault):
    assert fault.swing.startswith(STRANGER)
    assert STRANGER not in {row["golfer"] for row in rows_of(folder / "roster.csv")}
    read(file)


FAULT_CHECKS = {
    "dropped_marker": is_dropped,
    "swapped_sides": is_swapped,
    "metres_as_millimetres": is_metres,
    "ends_before_impact": is_early,
    "duplicate": is_duplicate,
    "cut_short": is_cut,
    "not_in_roster": is_stranger,
}


def test_the_tables_hold_every_golfer_handicap_and_speed(academy):
    folder, truth = academy
    roster = rows_of(folder / "roster.csv")
    staff = range(FIRST_STAFF, FIRST_STAFF + len(truth.staff))
    assert [row["golfer"] for row in roster] == [
        f"Q{n:04d}" for n in (*range(1, GOLFERS + 2), *staff)
    ]
    assert {row["hand"] for row in roster} <= {"right", "left"}
    people = {one.person.golfer.code: one.person.golfer for one in truth.golfers}
    handicaps = [row for row in rows_of(folder / "handicaps.csv") if row["golfer"] in people]
    assert len(handicaps) == sum(len(one.handicaps) for one in people.values())
    speeds = rows_of(folder / "ball_speed.csv")
    struck = sum(len(one.swings) for one in truth.golfers)
    assert 0.85 * struck < len(speeds) <= struck
    for row in speeds:
        swing = truth.swings[row["swing"]]
        assert float(row["ball_speed_mph"]) * 0.44704 == pytest.approx(swing.ball_mps, abs=0.03)


def test_everyone_was_asked_and_juniors_guardians_answered(academy, tmp_path):
    folder, _ = academy
    asked, roster = rows_of(folder / "consents.csv"), rows_of(folder / "roster.csv")
    for purpose in ("research", "shown"):
        told = sorted(row["golfer"] for row in asked if row["purpose"] == purpose)
        assert told == sorted(row["golfer"] for row in roster)
    people = [
        Golfer(code=f"Q{number}", hand="right", birth_year=1980 if number % 2 else 2012)
        for number in range(400)
    ]
    write_consents(tmp_path / "consents.csv", people, np.random.default_rng(1))
    rows = rows_of(tmp_path / "consents.csv")
    for row in rows:
        junior = int(row["golfer"][1:]) % 2 == 0
        assert row["guardian"] == str(junior).lower()
        assert junior or row["purpose"] in ("research", "shown", "health")
    yes = Counter(row["purpose"] for row in rows if row["given"] == "true")
    assert yes["research"] == pytest.approx(380, abs=15)
    assert yes["shown"] == pytest.approx(320, abs=25)
    assert yes["coaching"] == 200
    assert 165 < yes["norms"] < 200  # some guardians have not answered
    assert yes["health"] > 0


def test_the_student_is_in_the_roster_and_has_five_captures_outside_the_captures(academy):
    folder, truth = academy
    golfer = truth.student.person.golfer
    assert golfer.code == f"Q{GOLFERS + 1:04d}"
    assert golfer.birth_year < 2000
    assert golfer.handicaps[-1].index == 14.2
    written = sorted(f"student/{path.name}" for path in (folder / "student").iterdir())
    assert written == list(truth.student_captures)
    assert len(written) == 5
    assert not list(folder.glob(f"captures/*/{golfer.code}*"))
    assert truth.truth_of(truth.student.swings[0].code).features["tempo"] > 1


def test_profiles_lie_beside_the_captures_and_their_axes_agree():
    for key in LAB_KEYS:
        axes = load_lab(key).axes
        assert np.linalg.det(axes) == pytest.approx(1.0)
    np.testing.assert_array_equal(load_lab("north_bay").axes, np.eye(3))
    # Range hut: target -x, up +y, so a right-hander's ball, canonical -y, lies along -z.
    np.testing.assert_array_equal(-load_lab("range_hut").axes[:, 1], [0, 0, -1])
    assert 'ball = "-z"' in load_lab("range_hut").profile


def test_an_academy_is_never_written_over_another(academy):
    folder, _ = academy
    with pytest.raises(NormsError, match="exists already"):
        write_academy(folder, seed=5, golfers=1)


def test_the_committed_samples_are_those_that_the_academy_gives(tmp_path):
    write_samples(tmp_path)
    assert len(list(SAMPLES.glob("*.c3d"))) == len(WANTED)
    assert sum(path.stat().st_size for path in SAMPLES.iterdir()) < 1_000_000
    made, kept = files_of(tmp_path), files_of(SAMPLES)
    assert made.keys() == kept.keys()
    for name, content in made.items():
        assert content == kept[name], name
