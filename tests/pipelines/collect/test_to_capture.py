import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from norms.errors import CaptureRefused
from pipelines.collect.profile import load_profile
from pipelines.collect.raw_points import RawPoints
from pipelines.collect.to_capture import to_capture


@pytest.fixture
def profile(captures, tmp_path):
    """Build the standard profile with parts of its text replaced."""

    def build(*changes):
        text = captures.NORTH_BAY
        for old, new in changes:
            assert old in text
            text = text.replace(old, new, 1)
        return load_profile(captures.write_profile(tmp_path, text))

    return build


@pytest.fixture
def raw(captures):
    return RawPoints(
        labels=tuple(captures.LABELS.values()),
        points=captures.swing_points_mm(),
        rate_hz=240.0,
        unit="mm",
    )


def capture_of(raw, profile, hand="right"):
    return to_capture(raw, profile, source="a.c3d", hand=hand)


def refused(raw, profile) -> CaptureRefused:
    with pytest.raises(CaptureRefused, match=r"^a\.c3d: ") as caught:
        capture_of(raw, profile)
    return caught.value


def without(raw, label, *, dropped=False):
    """The points without one, or with one that was never seen."""
    place = raw.labels.index(label)
    if dropped:
        points = raw.points.copy()
        points[:, place] = np.nan
        return dataclasses.replace(raw, points=points)
    kept = [i for i in range(len(raw.labels)) if i != place]
    return dataclasses.replace(
        raw, labels=tuple(raw.labels[i] for i in kept), points=raw.points[:, kept]
    )


def test_points_are_taken_by_role_in_centimetres(raw, profile, captures):
    capture = capture_of(raw, profile())
    assert capture.roles == tuple(captures.LABELS)
    assert_allclose(capture.point("right_psis"), raw.points[:, 3] / 10)
    assert (capture.rate_hz, capture.hand, capture.event_source) == (240.0, "right", "club")
    assert capture.conditioning.cutoff_hz == 12
    assert capture.notices == ()


@pytest.mark.parametrize(
    ("unit", "cm"), [("mm", 0.1), ("cm", 1.0), ("m", 100.0), ("in", 2.54), ("ft", 30.48)]
)
def test_the_declared_unit_scales_a_file_that_states_none(raw, profile, unit, cm):
    bare = dataclasses.replace(raw, unit=None, points=raw.points / 1000)
    capture = capture_of(bare, profile(('"mm"', f'"{unit}"')))
    assert_allclose(capture.point("left_asis"), bare.points[:, 0] * cm)


@pytest.mark.parametrize("stated", ["m", "cm", "deg", "furlong"])
def test_a_file_that_states_another_unit_is_refused_naming_both(raw, profile, stated):
    fault = refused(dataclasses.replace(raw, unit=stated), profile())
    assert fault.code == "units_disagree"
    assert f"'{stated}'" in fault.message
    assert "'mm'" in fault.message


@pytest.mark.parametrize("stated", ["MM", " mm ", "Millimeters"])
def test_the_stated_unit_may_be_spelled_otherwise(raw, profile, stated):
    capture_of(dataclasses.replace(raw, unit=stated), profile())


def test_the_rate_of_the_file_must_agree_within_half_a_percent(raw, profile):
    assert capture_of(dataclasses.replace(raw, rate_hz=239.0), profile()).rate_hz == 239.0
    fault = refused(dataclasses.replace(raw, rate_hz=200.0), profile())
    assert fault.code == "rate"
    assert "200 Hz" in fault.message
    assert "240 Hz" in fault.message


def test_the_rate_comes_from_the_profile_where_the_file_states_none(raw, profile):
    bare = dataclasses.replace(raw, rate_hz=None)
    assert capture_of(bare, profile()).rate_hz == 240.0
    assert "add a column time_s" in refused(bare, profile(("hz = 240", ""))).message


def test_a_cutoff_above_half_the_rate_is_refused(raw, profile):
    fault = refused(raw, profile(("cutoff_hz = 12", "cutoff_hz = 120")))
    assert "above half the rate" in fault.message


def test_a_subject_prefix_is_seen_through_where_it_is_unambiguous(raw, profile):
    prefixed = dataclasses.replace(raw, labels=tuple(f"Q0001:{name}" for name in raw.labels))
    capture = capture_of(prefixed, profile())
    assert_allclose(capture.point("left_asis"), raw.points[:, 0] / 10)
    two = dataclasses.replace(
        raw,
        labels=(*prefixed.labels, "Q0002:LASI"),
        points=np.concatenate([raw.points, raw.points[:, :1]], axis=1),
    )
    fault = refused(two, profile())
    assert fault.code == "ambiguous_marker"
    assert "Q0001:LASI, Q0002:LASI" in fault.message


def test_a_label_that_stands_twice_is_refused(raw, profile):
    fault = refused(dataclasses.replace(raw, labels=("LASI", "LASI", *raw.labels[2:])), profile())
    assert fault.code == "ambiguous_marker"


def test_a_pelvis_marker_that_is_not_in_the_file_is_named_with_what_is(raw, profile):
    fault = refused(without(raw, "LPSI"), profile())
    assert fault.code == "missing_marker"
    assert "'LPSI' (left_psis)" in fault.message
    assert "LASI, RASI" in fault.message


def test_a_pelvis_marker_that_was_never_seen_is_a_dropped_marker(raw, profile):
    fault = refused(without(raw, "RASI", dropped=True), profile())
    assert fault.code == "marker_dropped"
    assert "'RASI' (right_asis)" in fault.message


def test_hips_serve_where_the_skin_markers_are_incomplete(raw, profile):
    with_hips = dataclasses.replace(
        raw,
        labels=(*raw.labels, "LHIP", "RHIP"),
        points=np.concatenate([raw.points, raw.points[:, :2]], axis=1),
    )
    both = profile(("[points]", '[points]\nleft_hip = "LHIP"\nright_hip = "RHIP"'))
    capture = capture_of(without(with_hips, "LPSI"), both)
    assert "left_psis" not in capture.roles
    assert [notice.code for notice in capture.notices] == ["marker_missing"]


def test_a_missing_club_is_warned_of_while_hands_are_there(raw, profile):
    capture = capture_of(without(raw, "CLUB"), profile())
    assert [notice.code for notice in capture.notices] == ["marker_missing"]
    capture = capture_of(without(raw, "CLUB", dropped=True), profile())
    assert [(n.code, n.severity) for n in capture.notices] == [("marker_dropped", "warning")]
    bare = without(without(without(raw, "CLUB"), "LHAN"), "RHAN")
    assert refused(bare, profile()).code == "missing_marker"


def test_feet_are_needed_only_for_the_feet_line(raw, profile, captures):
    footless = without(raw, "LTOE")
    assert "left_foot" not in capture_of(footless, profile()).roles
    declared = 'source = "declared"\ntarget = "+x"\nup = "+z"\nball = "-y"'
    feet_line = profile((declared, 'source = "feet_line"\nup = "+z"'))
    assert refused(footless, feet_line).code == "missing_marker"


def test_a_point_a_hundred_metres_off_is_not_believed(raw, profile):
    points = raw.points.copy()
    points[5, 2] = 1e12
    assert refused(dataclasses.replace(raw, points=points), profile()).code == "magnitude"


class TestEvents:
    @pytest.fixture
    def named(self, profile):
        return profile(('source = "club"', 'source = "club"\nimpact = "IMP"\ntop = "TOP"'))

    def test_named_events_are_taken_from_the_file(self, raw, named):
        events = {"IMP": (1.55,), "TOP": (1.3,), "Foot Strike": (0.1, 0.2)}
        capture = capture_of(dataclasses.replace(raw, events_s=events), named)
        assert capture.events_s == {"impact": 1.55, "top": 1.3}

    def test_an_absent_event_is_warned_of(self, raw, named):
        capture = capture_of(dataclasses.replace(raw, events_s={"IMP": (1.55,)}), named)
        assert capture.events_s == {"impact": 1.55}
        assert [notice.code for notice in capture.notices] == ["event_missing"]

    @pytest.mark.parametrize(
        ("times", "code"),
        [((1.2, 1.3), "event_repeated"), ((-0.1,), "event_outside"), ((9.0,), "event_outside")],
    )
    def test_an_event_that_cannot_be_is_refused(self, raw, named, times, code):
        events = {"IMP": times, "TOP": (1.3,)}
        assert refused(dataclasses.replace(raw, events_s=events), named).code == code
