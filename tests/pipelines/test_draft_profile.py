"""Drafting a profile: what is sure is written, what is not is left to a person."""

from dataclasses import replace

import numpy as np
import pytest

from norms.errors import CaptureRefused
from norms.swing.plausibility import check_plausible
from norms.synthetic import Body, SwingParameters, capture_times, marker_paths
from norms.units import CM_PER_UNIT
from pipelines.collect.profile import load_profile
from pipelines.collect.raw_points import RawPoints
from pipelines.collect.to_capture import to_capture
from pipelines.draft.roles import guess_roles, words_of
from pipelines.draft_profile import draft_from_points, draft_profile

LABELS = {
    "left_asis": "LASI",
    "right_asis": "RASI",
    "left_psis": "LPSI",
    "right_psis": "RPSI",
    "left_hand": "Left hand",
    "right_hand": "Right hand",
    "club_head": "Club head",
    "left_foot": "Left foot",
    "right_foot": "Right foot",
}


def raw_points(
    *, unit: str = "mm", stated: bool = True, turn: np.ndarray | None = None, hand: str = "right",
    labels: dict[str, str] | None = None, **fields: object,
) -> RawPoints:  # fmt: skip
    """The invented swing in a file's own terms; canonical axes are x target, z up, ball -y."""
    swing = SwingParameters()
    paths = marker_paths(swing, Body(), capture_times(swing, 240.0), hand)  # type: ignore[arg-type]
    named = {(labels or LABELS)[role]: path for role, path in paths.items()}
    points = np.stack(list(named.values()), axis=1) / CM_PER_UNIT[unit]
    return RawPoints(
        labels=tuple(named),
        points=points if turn is None else points @ turn.T,
        rate_hz=240.0,
        unit=unit if stated else None,
        **fields,  # type: ignore[arg-type]
    )


def lines(raw: RawPoints) -> dict[str, str]:
    """Sureness of each line of the draft."""
    return {
        s.line: s.sure for s in draft_from_points(raw, source="a.c3d", lab="North bay").statements
    }


def test_a_subjects_name_before_the_labels_stays_out_of_the_profile(tmp_path) -> None:
    def of(subject: str) -> RawPoints:
        return raw_points(labels={role: f"{subject}:{label}" for role, label in LABELS.items()})

    draft = draft_from_points(of("S07"), source="a.c3d", lab="North bay")
    assert draft.open_questions == ()
    assert "'S07'" in draft.toml().splitlines()[2]
    path = tmp_path / "drafted.toml"
    path.write_text(draft.toml(), encoding="utf-8")
    profile = load_profile(path)
    assert profile.points == LABELS
    check_plausible(to_capture(of("S08"), profile, source="b.c3d", hand="right"))


def test_labels_of_two_subjects_in_one_file_keep_their_names() -> None:
    one = raw_points(labels={role: f"S07:{label}" for role, label in LABELS.items()})
    both = replace(
        one,
        labels=(*one.labels, *(label.replace("S07", "S08") for label in one.labels)),
        points=np.concatenate([one.points, one.points + 3000.0], axis=1),
    )
    draft = draft_from_points(both, source="a.c3d", lab="North bay")
    assert draft.subjects == ()
    assert {s.sure for s in draft.statements if s.line.startswith("left_asis")} == {"unsure"}


def test_a_clear_capture_gives_a_profile_that_loads_and_fits(tmp_path) -> None:
    raw = raw_points(events_s={"Impact": (1.67,)})
    draft = draft_from_points(raw, source="a.c3d", lab="North bay")
    assert draft.open_questions == ()
    path = tmp_path / "drafted.toml"
    path.write_text(draft.toml(), encoding="utf-8")
    profile = load_profile(path)
    assert profile.points == LABELS
    assert (profile.axes.target, profile.axes.up, profile.axes.ball) == ("+x", "+z", "-y")
    assert profile.events.impact == "Impact"
    check_plausible(to_capture(raw, profile, source="a.c3d", hand="right"))


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize(
    ("rows", "wanted"),
    [
        ([[1, 0, 0], [0, 0, 1], [0, -1, 0]], ("+x", "+y", "+z")),
        ([[0, 1, 0], [-1, 0, 0], [0, 0, 1]], ("-y", "+z", "-x")),
        ([[0, 0, 1], [1, 0, 0], [0, 1, 0]], ("+y", "+x", "-z")),
    ],
)
def test_axes_are_found_in_turned_laboratories_for_either_hand(rows, wanted, hand) -> None:
    found = lines(raw_points(turn=np.array(rows, dtype=float), hand=hand))
    for name, axis in zip(("target", "up", "ball"), wanted, strict=True):
        assert found[f'{name} = "{axis}"'] in ("sure", "likely")


def test_a_mirrored_laboratory_is_left_to_a_person() -> None:
    found = lines(raw_points(turn=np.diag([1.0, -1.0, 1.0])))
    assert found["mirrored = true"] == "unsure"
    assert found['ball = "+y"'] == "unsure"


def test_a_target_line_across_the_axes_is_taken_from_the_feet() -> None:
    c, s = np.cos(0.6), np.sin(0.6)
    found = lines(raw_points(turn=np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])))
    assert found['source = "feet_line"'] == "likely"


@pytest.mark.parametrize("unit", ["mm", "cm", "m"])
def test_a_unit_that_the_file_does_not_state_is_told_by_the_pelvis(unit) -> None:
    assert lines(raw_points(unit=unit, stated=False))[f'length = "{unit}"'] == "likely"


def test_a_stated_unit_that_the_pelvis_contradicts_is_left_to_a_person() -> None:
    raw = raw_points(unit="mm")
    wrong = RawPoints(labels=raw.labels, points=raw.points, rate_hz=240.0, unit="m")
    assert lines(wrong)['length = "m"'] == "unsure"


def test_labels_that_say_nothing_are_not_guessed() -> None:
    labels = {role: f"M{number:03d}" for number, role in enumerate(LABELS)}
    draft = draft_from_points(raw_points(labels=labels), source="a.c3d")
    points = [s for s in draft.statements if s.section == "points"]
    assert {s.sure for s in points} == {"unsure"}
    assert "M000" in points[0].evidence
    body = [line for line in draft.toml().splitlines() if line and line[0] not in "#["]
    assert not any("asis" in line for line in body)


def test_two_labels_that_fit_one_role_are_left_to_a_person() -> None:
    labels = LABELS | {"left_hand": "Left hand 1", "right_hand": "Left hand 2"}
    found = lines(raw_points(labels=labels))
    assert found['left_hand = "Left hand 1"'] == "unsure"


def test_a_pelvis_that_is_not_rigid_is_doubted() -> None:
    raw = raw_points()
    points = raw.points.copy()
    points[:, raw.labels.index("LASI")] += 80.0 * np.sin(np.arange(len(points)) / 40.0)[:, None]
    found = lines(RawPoints(labels=raw.labels, points=points, rate_hz=240.0, unit="mm"))
    assert found['left_asis = "LASI"'] == "unsure"


@pytest.mark.parametrize(
    ("label", "words"),
    [
        ("Someone:LASI", {"left", "asi"}),
        ("LeftUpLeg", {"left", "up", "leg"}),
        ("R_PSIS", {"r", "psis"}),
        ("rhand", {"right", "hand"}),
        ("Lead", {"lead"}),
    ],
)
def test_words_of_a_label(label, words) -> None:
    assert words_of(label) == words


def test_the_plainest_label_wins() -> None:
    guesses = guess_roles(("LeftHandThumb1", "LeftHand", "LeftHandIndex1"))
    assert guesses["left_hand"].label == "LeftHand"
    assert guesses["left_hand"].rivals == ()


def test_a_file_is_read_behind_the_shield(tmp_path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(
        "time_s,LASI_x,LASI_y,LASI_z\n" + "".join(f"{i / 100},1,2,3\n" for i in range(60))
    )
    draft = draft_profile(path)
    assert any(s.line == 'name = ""' and s.sure == "unsure" for s in draft.statements)
    (tmp_path / "b.csv").write_text("nothing")
    with pytest.raises(CaptureRefused, match=r"b\.csv"):
        draft_profile(tmp_path / "b.csv")
