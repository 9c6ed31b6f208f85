"""Events of invented swings whose events are known, and refusals by name."""

import numpy as np
import pytest

from norms.errors import SwingRefused
from norms.records import SwingEvents
from norms.swing.detect_events import detect_events
from norms.swing.process import process_capture
from norms.synthetic import Body, SwingParameters, capture_times, marker_paths, true_events


def random_swing(rng: np.random.Generator) -> SwingParameters:
    backswing = rng.uniform(0.65, 1.1)
    return SwingParameters(
        start_s=rng.uniform(0.5, 1.0),
        backswing_s=backswing,
        downswing_s=backswing / rng.uniform(2.5, 3.6),
        follow_through_s=rng.uniform(0.55, 0.9),
        club_speed_mps=rng.uniform(25.0, 48.0),
        hands_lead_s=rng.uniform(0.0, 0.02),
    )


def find(rate: float, *, club_cm: np.ndarray | None, hands_cm: np.ndarray | None, **kw: object):
    """Events alone, of paths that fill the capture."""
    path = club_cm if club_cm is not None else hands_cm
    assert path is not None
    events, _ = detect_events(
        rate_hz=rate,
        last_s=(len(path) - 1) / rate,
        club_cm=club_cm,
        hands_cm=hands_cm,
        **kw,  # type: ignore[arg-type]
    )
    return events


def detect(
    swing: SwingParameters, rate: float, noise_cm: float, rng: np.random.Generator, **kw: object
) -> SwingEvents:
    paths = marker_paths(swing, Body(), capture_times(swing, rate))
    noisy = {k: v + rng.normal(scale=noise_cm, size=v.shape) for k, v in paths.items()}
    return find(
        rate,
        club_cm=noisy["club_head"],
        hands_cm=(noisy["left_hand"] + noisy["right_hand"]) / 2,
        **kw,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("rate", [120.0, 240.0])
def test_top_and_impact_within_one_frame_in_99_of_100(rate: float) -> None:
    rng = np.random.default_rng(7)
    errors = []
    for _ in range(200):
        swing = random_swing(rng)
        found = detect(swing, rate, 0.1, rng)
        truth = true_events(swing)
        errors.append([found.mark(e).time_s - truth[e] for e in ("top", "impact")])
    within = np.abs(errors) * rate <= 1.0
    assert within.mean(axis=0).min() >= 0.99


def test_start_and_finish_lie_within_their_stated_uncertainty() -> None:
    rng = np.random.default_rng(8)
    for _ in range(50):
        swing = random_swing(rng)
        found = detect(swing, 240.0, 0.05, rng)
        truth = true_events(swing)
        for event in ("start", "finish"):
            mark = found.mark(event)
            assert abs(mark.time_s - truth[event]) <= mark.uncertainty_s, event


@pytest.mark.parametrize("rate", [60.0, 240.0])
@pytest.mark.parametrize("noise_cm", [0.05, 0.5])
def test_half_widths_grow_with_the_noise_so_as_to_hold_the_errors(rate, noise_cm) -> None:
    rng = np.random.default_rng(12)
    ratios = []
    for _ in range(60):
        swing = random_swing(rng)
        found, truth = detect(swing, rate, noise_cm, rng), true_events(swing)
        marks = [found.mark(event) for event in ("start", "top", "impact", "finish")]
        # a half-width counts as a rectangular distribution: two sds are 2 / sqrt(3) of it
        ratios.append([
            abs(mark.time_s - truth[event]) / (2.0 / np.sqrt(3.0) * mark.uncertainty_s)
            for event, mark in zip(("start", "top", "impact", "finish"), marks, strict=True)
        ])  # fmt: skip
    assert ((np.array(ratios) <= 1.0).mean(axis=0) > 0.9).all()


def test_the_half_width_of_a_reversal_follows_from_its_noise() -> None:
    """Sampled anew, the top scatters as its half-width says beyond that of the method."""
    rng, swing = np.random.default_rng(5), SwingParameters()
    tops = [detect(swing, 240.0, 0.5, rng).top for _ in range(80)]
    of_noise = np.sqrt((np.mean([top.uncertainty_s for top in tops]) ** 2 - 0.005**2) / 3.0)
    assert of_noise == pytest.approx(np.std([top.time_s for top in tops], ddof=1), rel=0.5)


def test_hands_stand_in_and_say_so() -> None:
    swing = SwingParameters()
    paths = marker_paths(swing, Body(), capture_times(swing, 120.0))
    hands = (paths["left_hand"] + paths["right_hand"]) / 2
    found = find(120.0, club_cm=None, hands_cm=hands)
    assert found.top.stand_in
    assert found.impact.stand_in
    assert found.impact.method == "hands back at address"
    truth = true_events(swing)
    for event in ("top", "impact"):
        mark = found.mark(event)
        assert abs(mark.time_s - truth[event]) <= mark.uncertainty_s


def test_events_stated_by_the_file_are_taken_as_they_are() -> None:
    rng = np.random.default_rng(9)
    swing = SwingParameters()
    found = detect(swing, 240.0, 0.05, rng, given_s={"impact": swing.impact_s + 0.003})
    assert found.impact.time_s == swing.impact_s + 0.003
    assert found.impact.method == "stated by the file"
    assert not found.impact.stand_in


def test_a_waggle_before_the_swing_is_not_its_start() -> None:
    swing = SwingParameters(start_s=1.6)
    times = capture_times(swing, 240.0)
    paths = marker_paths(swing, Body(), times)
    bump = 6.0 * np.exp(-(((times - 0.8) / 0.12) ** 2))  # the club waved 6 cm and brought back
    club = paths["club_head"] + bump[:, None] * [1.0, 0.0, 0.5]
    hands = (paths["left_hand"] + paths["right_hand"]) / 2
    found = find(240.0, club_cm=club, hands_cm=hands)
    assert found.start.time_s == pytest.approx(swing.start_s, abs=0.03)


def test_capture_that_runs_out_before_the_hands_rest_ends_at_its_last_sample(
    make_capture, label
) -> None:
    swing = SwingParameters()
    capture = make_capture(swing, end_s=swing.impact_s + 0.3)
    done = process_capture(capture, label)
    assert done.events.finish.stand_in
    assert done.events.finish.time_s == pytest.approx((len(capture.points_cm) - 1) / 240.0)
    assert any(notice.code == "finish_at_end" for notice in done.notices)


SWING = SwingParameters()


@pytest.mark.parametrize(
    ("code", "fields"),
    [
        ("no_impact", {"end_s": SWING.impact_s - 0.05}),
        ("no_impact", {"end_s": SWING.top_s + 0.15}),
        ("no_start", {"begin_s": SWING.start_s + 0.35}),
        ("no_top", {"begin_s": SWING.top_s + 0.08}),
        ("no_swing", {"end_s": SWING.start_s}),
        ("ends_at_impact", {"end_s": SWING.impact_s + 0.05}),
        ("no_event_points", {"leave_out": ("club_head", "left_hand", "right_hand")}),
        ("no_impact", {"events_s": {"impact": 9.0}}),
    ],
)
def test_half_a_swing_is_refused_by_name(make_capture, label, code: str, fields: dict) -> None:
    with pytest.raises(SwingRefused) as refused:
        process_capture(make_capture(SWING, **fields), label)
    assert refused.value.code == code
    assert "\n" not in refused.value.message
