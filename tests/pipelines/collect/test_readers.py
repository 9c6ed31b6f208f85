"""The same points out of every format, and every damaged file refused in one line."""

import struct
from pathlib import Path

import ezc3d
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from numpy.testing import assert_allclose

from norms.errors import CaptureRefused
from pipelines.collect.readers import SUFFIXES, read_points

BLOCK = 512
REAL_SWING = Path(__file__).parents[4] / "shared" / "data" / "real_golf_swing.bvh"


@pytest.fixture
def c3d(captures, tmp_path):
    return captures.write_c3d(tmp_path / "swing.c3d")


def refused(path, content=None) -> CaptureRefused:
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(CaptureRefused) as caught:
        read_points(path)
    assert "\n" not in caught.value.message
    assert caught.value.message.startswith(path.name)
    return caught.value


# --- equality of formats -------------------------------------------------------------------------


def test_c3d_csv_and_parquet_give_the_same_points(captures, tmp_path):
    points = captures.swing_points_mm()[:40]
    points[7, 3] = np.nan
    labels = list(captures.LABELS.values())
    csv = read_points(captures.write_csv(tmp_path / "a.csv", points, labels))
    columns = {"time_s": np.arange(len(points)) / captures.RATE_HZ}
    for i, label in enumerate(labels):
        for j, letter in enumerate("xyz"):
            columns[f"{label}_{letter}"] = points[:, i, j]
    pq.write_table(pa.table(columns), tmp_path / "a.parquet")
    parquet = read_points(tmp_path / "a.parquet")
    c3d = read_points(captures.write_c3d(tmp_path / "a.c3d", points))
    for raw in (csv, parquet, c3d):
        assert raw.labels == tuple(labels)
        assert raw.rate_hz == pytest.approx(240.0)
        # C3D holds 32-bit floats: 1e-4 mm at 1.5 m
        assert_allclose(raw.points, points, atol=1e-4, equal_nan=True)
    assert c3d.unit == "mm"
    assert csv.unit is None


def test_an_unknown_suffix_names_the_formats(tmp_path):
    fault = refused(tmp_path / "swing.avi", b"x")
    assert fault.code == "unknown_format"
    assert all(suffix in fault.message for suffix in SUFFIXES)


def test_a_refusal_stays_one_short_line_whatever_a_file_calls_its_columns(tmp_path):
    path = tmp_path / "a.csv"
    for name in ("R" + " " * 9000 + "_x", "R" * 9000 + "_x", '"R\nR_x"', "R\x1b[31m_x"):
        path.write_text(f"time_s,{name}\n0,1\n1,2\n")
        fault = refused(path)
        assert fault.code == "missing_column"
        assert fault.message.isprintable()
        assert len(fault.message) < 120


# --- C3D -----------------------------------------------------------------------------------------


def test_points_with_residual_minus_one_and_points_at_the_origin_are_gaps(captures, tmp_path, c3d):
    content = bytearray(c3d.read_bytes())
    start = data_start(content)
    content[start + 12 : start + 16] = struct.pack("<f", -1.0)  # residual of point 0, frame 0
    content[start + 16 : start + 28] = bytes(12)  # point 1, frame 0, at (0, 0, 0)
    c3d.write_bytes(content)
    raw = read_points(c3d)
    assert np.isnan(raw.points[0, :2]).all()
    assert np.isfinite(raw.points[0, 2:]).all()
    assert np.isfinite(raw.points[1:]).all()


def test_event_times_are_minutes_and_seconds(captures, tmp_path):
    path = captures.write_c3d(tmp_path / "a.c3d", events={"top": 1.3, "impact": 1.55})
    raw = read_points(path)
    assert raw.events_s["top"] == (pytest.approx(1.3),)
    assert raw.events_s["impact"] == (pytest.approx(1.55),)
    assert raw.notices == ()


@pytest.mark.parametrize(
    ("first_frame", "stored", "expected", "notices"),
    [
        # trimmed after 480 frames = 2 s; 492 frames = 2.05 s are kept
        (481, {"top": 3.3, "impact": 3.55}, (1.3, 1.55), ("event_clock",)),
        (481, {"top": 1.3, "impact": 1.55}, (1.3, 1.55), ()),
        (25, {"top": 1.3, "impact": 1.55}, (1.3, 1.55), ("event_clock_unclear",)),
    ],
)
def test_event_times_of_a_trimmed_file_count_from_its_first_frame(
    captures, tmp_path, first_frame, stored, expected, notices
):
    path = captures.write_c3d(tmp_path / "a.c3d", events=stored)
    content = bytearray(path.read_bytes())
    first, last = struct.unpack_from("<2H", content, 6)
    struct.pack_into("<2H", content, 6, first_frame, last - first + first_frame)
    path.write_bytes(content)
    raw = read_points(path)
    assert [raw.events_s[name][0] for name in ("top", "impact")] == pytest.approx(expected)
    assert tuple(notice.code for notice in raw.notices) == notices


def test_a_file_cut_short_anywhere_is_refused(c3d):
    content = c3d.read_bytes()
    needed = data_start(content) + layout_bytes(content)
    assert len(content) - BLOCK < needed <= len(content)  # the last block is filled up
    for length in (*range(1, BLOCK * 4, 97), *range(BLOCK * 4, needed, 4001), needed - 1):
        fault = refused(c3d, content[:length])
        assert fault.code in ("cut_short", "not_a_c3d", "damaged"), length
    fault = refused(c3d, content[: len(content) // 2])
    assert fault.code == "cut_short"
    assert f"{len(content) // 2:,} of " in fault.message
    assert refused(c3d, content[:-BLOCK]).code == "cut_short"


def test_an_empty_file_and_a_text_file_named_c3d_are_told_apart(c3d):
    assert refused(c3d, b"").code == "empty_file"
    fault = refused(c3d, b"time,LASI_x\n0,1\n" * 100)
    assert fault.code == "not_a_c3d"
    assert "looks like text" in fault.message
    assert refused(c3d, bytes(range(256)) * 8).code in ("not_a_c3d", "damaged")


@pytest.mark.parametrize(
    ("at", "value", "code"),
    [
        (2, 60_000, "cut_short"),  # points
        (4, 60_000, "cut_short"),  # analogue samples
        (8, 60_000, "frame_count"),  # last frame
        (2, 0, "no_points"),
        (16, 0, "damaged"),  # data start
    ],
)
def test_false_counts_in_the_header_are_refused_before_anything_is_reserved(c3d, at, value, code):
    content = bytearray(c3d.read_bytes())
    struct.pack_into("<H", content, at, value)
    assert refused(c3d, bytes(content)).code == code


def test_a_negative_rate_is_refused(captures, tmp_path):
    path = captures.write_c3d(tmp_path / "a.c3d")
    content = path.read_bytes()
    changed = content.replace(struct.pack("<f", 240.0), struct.pack("<f", -240.0))
    assert changed != content
    fault = refused(path, changed)
    assert fault.code == "rate"
    assert "-240" in fault.message


def test_more_points_than_one_list_of_labels_holds(captures, tmp_path):
    labels = [f"P{i:03d}" for i in range(300)]
    points = np.random.default_rng(3).normal(500, 10, (5, 300, 3))
    raw = read_points(captures.write_c3d(tmp_path / "many.c3d", points, labels))
    assert raw.labels == tuple(labels)
    assert_allclose(raw.points, points, atol=1e-3)


def test_a_file_in_which_no_point_is_seen_is_refused(captures, tmp_path):
    points = np.full((5, 9, 3), np.nan)
    assert refused(captures.write_c3d(tmp_path / "a.c3d", points)).code == "no_points"


@pytest.mark.parametrize("processor", [84, 85])
@pytest.mark.parametrize("scale", [-1.0, 0.5])
def test_both_processors_and_both_kinds_of_numbers(tmp_path, processor, scale):
    """Files made by hand for Intel and DEC; floats (scale below zero) and scaled words."""
    points = np.array([[[10.0, 20.0, 30.0], [-5.5, 0.5, 900.0]], [[11.0, 21.0, 31.0], [0, 0, 1]]])
    path = tmp_path / "a.c3d"
    path.write_bytes(hand_made_c3d(points, ["A", "B"], processor, scale))
    raw = read_points(path)
    assert (raw.labels, raw.rate_hz, raw.unit) == (("A", "B"), 240.0, "mm")
    assert_allclose(raw.points, points)
    content = path.read_bytes()
    size = 16 if scale < 0 else 8
    assert refused(path, content[: 3 * BLOCK + 4 * size - 1]).code == "cut_short"


@pytest.mark.parametrize("processor", [86, 0])
def test_a_byte_order_that_is_stated_falsely_is_refused(c3d, processor):
    content = bytearray(c3d.read_bytes())
    assert content[BLOCK + 3] == 84
    content[BLOCK + 3] = processor
    assert refused(c3d, bytes(content)).code in ("damaged", "cut_short")


def hand_made_c3d(points, labels, processor, scale) -> bytes:
    """A C3D file after the format's public user guide: header, one block of parameters, data."""

    def words(*values):
        return struct.pack(f"<{len(values)}h", *values)

    def real(value):
        if processor != 85:
            return struct.pack("<f", value)
        # a DEC float has the words of four times its value, exchanged
        low, high = struct.unpack("<2H", struct.pack("<f", 4 * value))
        return struct.pack("<2H", high, low)

    def record(identity, name, body):
        head = struct.pack("<bb", len(name), identity) + name.encode()
        return head + words(len(body) + 2) + body

    def parameter(name, kind, dimensions, data):
        body = struct.pack("<bB", kind, len(dimensions)) + bytes(dimensions) + data + b"\0"
        return record(1, name, body)

    frames, count = points.shape[:2]
    header = bytes([2, 0x50]) + words(count, 0, 1, frames, 10) + real(scale)
    header += words(4, 0) + real(240.0)
    parameters = bytes([1, 0x50, 2, processor]) + record(-1, "POINT", b"\0")
    parameters += parameter("USED", 2, [], words(count)) + parameter("FRAMES", 2, [], words(frames))
    parameters += parameter("RATE", 4, [], real(240.0)) + parameter("SCALE", 4, [], real(scale))
    parameters += parameter("DATA_START", 2, [], words(4))
    parameters += parameter("LABELS", -1, [1, count], "".join(labels).encode())
    parameters += parameter("UNITS", -1, [2], b"mm") + bytes(2)
    if scale < 0:
        data = b"".join(real(v) for point in points.reshape(-1, 3) for v in (*point, 0.0))
    else:
        scaled = np.rint(points.reshape(-1, 3) / scale).astype(int)
        data = b"".join(words(*point, 0) for point in scaled)
    return header.ljust(BLOCK, b"\0") + parameters.ljust(2 * BLOCK, b"\0") + data


def test_what_ezc3d_reads_is_what_is_handed_over(captures, tmp_path):
    path = captures.write_c3d(tmp_path / "a.c3d")
    direct = ezc3d.c3d(str(path))["data"]["points"][:3].transpose(2, 1, 0)
    assert_allclose(read_points(path).points, direct, atol=0)


def data_start(content) -> int:
    return (struct.unpack_from("<H", content, 16)[0] - 1) * BLOCK


def layout_bytes(content) -> int:
    points, _, first, last = struct.unpack_from("<4H", content, 2)
    return points * (last - first + 1) * 16


# --- BVH -----------------------------------------------------------------------------------------

BVH = """HIERARCHY
ROOT Hips
{
  OFFSET 0 0 0
  CHANNELS 6 Xposition Yposition Zposition Zrotation Xrotation Yrotation
  JOINT LeftUpLeg
  {
    OFFSET 10 0 0
    CHANNELS 3 Zrotation Xrotation Yrotation
    End Site
    {
      OFFSET 0 -40 0
    }
  }
  JOINT RightUpLeg
  {
    OFFSET -10 0 0
    CHANNELS 3 Zrotation Xrotation Yrotation
    End Site
    {
      OFFSET 0 -40 0
    }
  }
}
MOTION
Frames: 3
Frame Time: 0.01
1 90 2 0 0 0 0 0 0 0 0 0
1 90 2 0 0 90 0 0 0 0 0 0
1 90 2 90 0 0 0 0 0 0 0 0
"""


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_bvh_joints_are_points_in_the_world(tmp_path, line_end):
    path = tmp_path / "a.bvh"
    path.write_bytes(BVH.replace("\n", line_end).encode())
    raw = read_points(path)
    assert raw.labels == ("Hips", "LeftUpLeg", "RightUpLeg")
    assert raw.rate_hz == pytest.approx(100)
    assert raw.unit is None
    left = raw.points[:, 1]
    # a quarter turn about y takes +x to −z, one about z takes +x to +y
    assert_allclose(left, [[11, 90, 2], [1, 90, -8], [1, 100, 2]], atol=1e-12)


@pytest.mark.parametrize(
    ("content", "code"),
    [
        ("", "empty_file"),
        ("hello", "not_a_bvh"),
        (BVH[:300], "cut_short"),
        (BVH[: BVH.rindex("1 90")], "cut_short"),
        (BVH[: BVH.rindex("1 90")].replace("\n", "\r\n"), "cut_short"),
        (BVH[:-8], "damaged"),
        (BVH.replace("1 90 2 90", "1 x 2 90"), "damaged"),
        (BVH.replace("1 90 2 90", "1 nan 2 90"), "damaged"),
        (BVH.replace("Frame Time: 0.01", "Frame Time: 0"), "damaged"),
        (BVH.replace("Frame Time: 0.01", "Frame Time: 1e-320"), "damaged"),
        (BVH.replace("Frame Time: 0.01", "Frame Time: -0.01"), "rate"),
    ],
)
def test_a_damaged_bvh_is_refused(tmp_path, content, code):
    assert refused(tmp_path / "a.bvh", content.encode()).code == code


@pytest.mark.skipif(not REAL_SWING.exists(), reason="the real capture is not beside this checkout")
def test_the_real_capture_reads_whole():
    raw = read_points(REAL_SWING)
    assert raw.points.shape == (401, 59, 3)
    assert raw.rate_hz == pytest.approx(120)


# --- tables --------------------------------------------------------------------------------------

TABLE = "time_s,A_x,A_y,A_z\n0.00,1,2,3\n0.01,1,,3\n0.02,4,5,6\n"


def test_an_empty_cell_is_a_gap_of_the_whole_point(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(TABLE)
    raw = read_points(path)
    assert np.isnan(raw.points[1, 0]).all()
    assert_allclose(raw.points[[0, 2], 0], [[1, 2, 3], [4, 5, 6]])


def test_times_rounded_to_milliseconds_are_still_even(tmp_path):
    rows = [f"{i / 240:.3f},1,2,{i}" for i in range(100)]
    path = tmp_path / "a.csv"
    path.write_text("time_s,A_x,A_y,A_z\n" + "\n".join(rows))
    assert read_points(path).rate_hz == pytest.approx(240, rel=0.003)


@pytest.mark.parametrize("row", [5, 50, 95])
def test_a_missing_or_repeated_row_is_found_by_its_time(tmp_path, row):
    rows = [f"{i / 100:.2f},1,2,{i}" for i in range(100)]
    path = tmp_path / "a.csv"
    for faulty in (rows[:row] + rows[row + 1 :], [*rows[:row], rows[row], *rows[row:]]):
        fault = refused(path, ("time_s,A_x,A_y,A_z\n" + "\n".join(faulty)).encode())
        assert fault.code == "time"
        assert "evenly spaced" in fault.message


@pytest.mark.parametrize(
    ("old", "new", "code", "words"),
    [
        ("0.02,4,5,6", "0.02,4,five,6", "not_a_number", "line 4, column A_y: 'five'"),
        ("0.02,4,5,6", "0.02,4,5", "bad_row", "line 4 has 3 cells where the header has 4"),
        ("A_y", "B_y", "missing_column", "column A_y is missing"),
        ("A_x,A_y,A_z", "a,b,c", "missing_column", "<label>_x"),
        ("A_y", "A_x", "repeated_column", "column A_x stands twice"),
        ("0.02,4,5,6", "0.02,4,inf,6", "not_a_number", "sample 3, column A_y"),
        ("0.02,4", ",4", "time", "sample 3 has no time_s"),
        ("0.00,1,2,3\n0.01,1,,3\n", "", "no_points", "1 rows"),
    ],
)
def test_a_faulty_table_names_line_and_column(tmp_path, old, new, code, words):
    assert old in TABLE
    fault = refused(tmp_path / "a.csv", TABLE.replace(old, new).encode())
    assert fault.code == code
    assert words in fault.message


def test_files_that_are_no_tables_are_refused(tmp_path):
    assert refused(tmp_path / "a.csv", b"").code == "empty_file"
    assert refused(tmp_path / "a.csv", bytes([0x80, 0xFF, 0]) * 50).code == "not_a_table"
    assert refused(tmp_path / "a.parquet", b"").code == "empty_file"
    assert refused(tmp_path / "a.parquet", b"PAR1 not really").code == "damaged"
    pq.write_table(pa.table({"A_x": ["one"], "A_y": [1.0], "A_z": [1.0]}), tmp_path / "b.parquet")
    fault = refused(tmp_path / "b.parquet")
    assert fault.code == "not_a_number"
    assert "column A_x" in fault.message


# --- fuzz ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_no_damaged_header_raises_anything_but_a_refusal(captures, tmp_path, seed):
    """The checks before the parser, on random damage to the first blocks."""
    from pipelines.collect.c3d_layout import check_layout

    rng = np.random.default_rng(seed)
    sound = captures.write_c3d(tmp_path / "a.c3d").read_bytes()
    for _ in range(100):
        content = bytearray(sound)
        for at in rng.integers(2, 3 * BLOCK, size=rng.integers(1, 12)):
            content[at] = rng.integers(256)
        try:
            layout = check_layout("a.c3d", bytes(content))
        except CaptureRefused:
            continue
        assert layout.bytes_wanted <= len(content)
        assert layout.rate_hz > 0
