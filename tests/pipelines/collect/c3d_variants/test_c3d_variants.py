"""Every variant of C3D gives the same points and events, and an independent reader agrees."""

import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from norms.errors import CaptureRefused
from pipelines.collect.c3d_byte_order import intel_bytes
from pipelines.collect.readers import read_points

ORDERS = {"Intel": 84, "DEC": 85, "MIPS": 86}
every_order = pytest.mark.parametrize("processor", ORDERS.values(), ids=ORDERS)
both_numbers = pytest.mark.parametrize("scale", [-1.0, 0.05], ids=["floats", "words"])
EVENTS = (("Top", 1.25), ("Impact", 1.5), ("Finish", 61.75))


@pytest.fixture
def points():
    """Fifty frames of three points in mm, the second unseen in frames 5 to 8."""
    drawn = np.random.default_rng(1).uniform(-900.0, 900.0, (50, 3, 3))
    drawn[5:9, 1] = np.nan
    return drawn


def by_c3d(path):
    """Points, labels and events as the package ``c3d`` (MIT) reads them; NaN where invalid."""
    import c3d

    with path.open("rb") as stream:
        reader = c3d.Reader(stream)
        frames = np.array([frame[1] for frame in reader.read_frames()], dtype=np.float64)
        labels = [label.strip() for label in reader.point_labels]
        events = {}
        if "EVENT" in reader:
            names = reader.get("EVENT").get("LABELS").string_array
            times = reader.get("EVENT").get("TIMES").float_array.reshape(-1, 2)
            events = {
                name.strip(): float(60 * minutes + seconds)
                for name, (minutes, seconds) in zip(names, times, strict=True)
            }
    found = frames[..., :3].copy()
    found[frames[..., 3] < 0] = np.nan
    return found, labels, events


@every_order
@both_numbers
@pytest.mark.parametrize("analog", [0, 3])
def test_every_byte_order_and_kind_of_number_gives_the_points_that_were_written(
    variants, tmp_path, points, processor, scale, analog
):
    path = variants.write_variant(
        tmp_path / "a.c3d",
        points,
        ["A", "B", "C"],
        processor=processor,
        scale=scale,
        analog=analog,
        events=EVENTS[:2],
    )
    raw = read_points(path)
    # Words round to half their scale; floats hold 900 mm to 6e-5 mm.
    assert_allclose(raw.points, points, atol=0.0251 if scale > 0 else 6.2e-5, equal_nan=True)
    assert raw.labels == ("A", "B", "C")
    assert raw.rate_hz == 240.0
    assert raw.unit == "mm"
    assert raw.events_s == {"Top": (1.25,), "Impact": (1.5,)}


@pytest.mark.filterwarnings("ignore::UserWarning:c3d")
@every_order
@both_numbers
def test_an_independent_reader_sees_the_same_points_gaps_labels_and_events(
    variants, tmp_path, points, processor, scale
):
    pytest.importorskip("c3d", reason="the independent reader is not installed")
    path = variants.write_variant(
        tmp_path / "a.c3d",
        points,
        ["hip:A", "hip:B", "hip:C"],
        processor=processor,
        scale=scale,
        analog=2,
        events=EVENTS,
    )
    raw = read_points(path)
    found, labels, events = by_c3d(path)
    assert_array_equal(np.isnan(raw.points), np.isnan(found))
    # Both read the same bits; they differ in the precision in which they apply the scale.
    assert_allclose(raw.points, found, rtol=1e-6, atol=1e-5, equal_nan=True)
    assert list(raw.labels) == labels
    assert {name: times[0] for name, times in raw.events_s.items()} == pytest.approx(events)


@pytest.mark.filterwarnings("ignore::UserWarning:c3d")
def test_an_independent_reader_agrees_on_a_file_of_the_library(captures, tmp_path):
    pytest.importorskip("c3d", reason="the independent reader is not installed")
    path = captures.write_c3d(tmp_path / "a.c3d", events={"top": 1.3, "impact": 1.55})
    raw = read_points(path)
    found, labels, events = by_c3d(path)
    assert_array_equal(raw.points, found)
    assert list(raw.labels) == labels
    assert {name: times[0] for name, times in raw.events_s.items()} == pytest.approx(events)


@every_order
@pytest.mark.parametrize("count", [255, 256, 511])
def test_more_labels_than_one_parameter_holds(variants, tmp_path, processor, count):
    drawn = np.random.default_rng(2).uniform(1.0, 900.0, (3, count, 3))
    labels = [f"P{number}" for number in range(count)]
    path = variants.write_variant(tmp_path / "a.c3d", drawn, labels, processor=processor)
    raw = read_points(path)
    assert raw.labels == tuple(labels)
    assert_allclose(raw.points, drawn, rtol=1e-6)


@every_order
@both_numbers
def test_a_gap_is_told_by_its_residual_and_not_by_its_coordinates(
    variants, tmp_path, points, processor, scale
):
    """Some systems leave the last seen place beside a residual of −1."""
    path = variants.write_variant(
        tmp_path / "a.c3d", points, ["A", "B", "C"], processor=processor, scale=scale
    )
    b = variants.Bytes(processor)
    content = bytearray(path.read_bytes())
    width = 4 if scale < 0 else 2
    (block,) = struct.unpack_from(f"{b.order}H", content, 16)
    at = (block - 1) * 512 + (7 * 3 + 1) * 4 * width  # frame 7, point B
    stale = b.reals([11.0, 12.0, 13.0]) if scale < 0 else b.words(220, 240, 260)
    content[at : at + 3 * width] = stale
    path.write_bytes(content)
    assert np.isnan(read_points(path).points[7, 1]).all()


@pytest.mark.parametrize("unit", ["mm", "cm", "m", None])
@every_order
def test_the_unit_is_handed_over_as_the_file_states_it(variants, tmp_path, points, processor, unit):
    path = variants.write_variant(
        tmp_path / "a.c3d", points, ["A", "B", "C"], processor=processor, unit=unit
    )
    assert read_points(path).unit == unit


@every_order
def test_times_of_a_trimmed_file_count_from_its_first_frame(variants, tmp_path, points, processor):
    # cut at frame 481, 2 s into the recording, which its events count from
    path = variants.write_variant(
        tmp_path / "a.c3d",
        points,
        ["A", "B", "C"],
        processor=processor,
        first_frame=481,
        events=(("Top", 2.05), ("Impact", 2.15)),
    )
    raw = read_points(path)
    assert raw.events_s["Top"][0] == pytest.approx(0.05, abs=1e-6)
    assert raw.events_s["Impact"][0] == pytest.approx(0.15, abs=1e-6)
    assert [notice.code for notice in raw.notices] == ["event_clock"]


@every_order
def test_an_event_label_that_stands_twice_keeps_both_times(variants, tmp_path, points, processor):
    path = variants.write_variant(
        tmp_path / "a.c3d",
        points,
        ["A", "B", "C"],
        processor=processor,
        events=(("Foot", 0.05), ("Impact", 0.1), ("Foot", 0.15)),
    )
    assert read_points(path).events_s["Foot"] == pytest.approx((0.05, 0.15))


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), data=st.data())
def test_a_damaged_file_of_a_mips_machine_is_turned_around_or_refused(
    variants, tmp_path_factory, seed, data
):
    rng = np.random.default_rng(seed)
    path = tmp_path_factory.getbasetemp() / "mips.c3d"
    drawn = rng.uniform(-900.0, 900.0, (4, 2, 3))
    variants.write_variant(path, drawn, ["A", "B"], processor=86, events=EVENTS[:1])
    content = bytearray(path.read_bytes())
    for at in data.draw(st.lists(st.integers(2, len(content) - 1), max_size=12)):
        content[at] = int(rng.integers(256))
    try:
        turned = intel_bytes(bytes(content))
    except (struct.error, IndexError):
        return
    assert len(turned) == len(content)


@pytest.mark.parametrize("keep", [0.3, 0.6, 0.97])
def test_a_mips_file_cut_short_is_refused(variants, tmp_path, points, keep):
    path = variants.write_variant(tmp_path / "a.c3d", points, ["A", "B", "C"], processor=86)
    content = path.read_bytes()
    path.write_bytes(content[: int(keep * len(content))])
    with pytest.raises(CaptureRefused, match=r"^a\.c3d: ") as refusal:
        read_points(path)
    assert refusal.value.code in ("cut_short", "damaged")
