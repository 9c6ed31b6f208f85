import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from reports.figures.bands import cells_figure, shown_curves
from reports.figures.curves import placement_figure
from reports.figures.strips import place_strip
from reports.figures.svg import drawing, inline_svg, new_figure
from reports.style import BAND_TINTS, GOLFER, INK, MEDIAN, MUTED, PAPER


def luminance(colour):
    # Relative luminance and contrast as WCAG 2.2 defines them.
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return float(np.dot(linear, (0.2126, 0.7152, 0.0722)))


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("colour", [INK, MUTED, MEDIAN, GOLFER])
def test_words_reach_the_contrast_of_level_aa_on_paper(colour):
    assert contrast(colour, PAPER) >= 4.5


def test_the_tints_stay_apart_in_grey_and_the_lines_darker_than_all_of_them():
    greys = [luminance(c) for c in (PAPER, *BAND_TINTS.values(), GOLFER, MEDIAN)]
    assert greys == sorted(greys, reverse=True)
    assert all(a / b > 1.15 for a, b in pairwise(greys))


@pytest.mark.parametrize(("peers", "bands"), [(90, 3), (41, 2), (24, 1), (7, 0)])
def test_only_supported_bands_are_drawn(make_placement, peers, bands):
    svg = placement_figure(make_placement(peers=peers), unit="in")
    assert sum(tint in svg for tint in BAND_TINTS.values()) == bands
    assert (MEDIAN in svg) == (peers >= 5)
    assert GOLFER in svg
    assert "nan" not in svg.lower()


def test_a_withheld_placement_draws_the_swing_alone(withheld_placement):
    svg = placement_figure(withheld_placement, unit="in")
    assert GOLFER in svg
    assert MEDIAN not in svg
    assert "No peers are drawn" in svg


def path_points(path):
    """Points of a drawn path of straight steps, shape (n, 2), in picture units."""
    points, here = [], np.zeros(2)
    for command, x, y in re.findall(r"([Ml])\s*(-?[\d.]+)\s*(-?[\d.]+)", path):
        here = np.array([float(x), float(y)]) + (here if command == "l" else 0.0)
        points.append(here)
    return np.array(points)


def test_paths_are_shortened_without_error_adding_up():
    from reports.figures.svg import drawing, inline_svg, new_figure

    values = 5.0 + np.where(np.arange(200) % 2, 1.0, -1.0) * np.linspace(1.0, 3.0, 200)
    with drawing("a"):
        figure = new_figure(200, 100)
        panel = figure.add_axes((0, 0, 1, 1))
        panel.set(xlim=(0, 199), ylim=(0, 10))
        panel.plot(values, color="#123456")
        svg = inline_svg(figure, name="a", title="t", description="d")
    path = re.search(r'<path d="(M[^"]+)"[^>]*#123456', svg).group(1)
    points = path_points(path)[:200]  # the last point stands twice
    assert points[:, 1] == pytest.approx(100 - 10 * values, abs=0.0501)
    assert len(path) < 13 * len(points)


def test_the_swing_and_the_median_differ_in_line_style_too(placement):
    svg = placement_figure(placement, unit="in")
    dotted = [style for style in re.findall(r'style="([^"]*)"', svg) if MEDIAN in style]
    assert all("dasharray" in style for style in dotted if "stroke-width" in style)
    solid = [style for style in re.findall(r'style="([^"]*)"', svg) if GOLFER in style]
    assert not any("dasharray" in style for style in solid)


def test_curves_are_drawn_at_their_values_on_one_scale(placement):
    svg = placement_figure(placement, unit="cm")
    paths = re.findall(r'<path d="([^"]+)"[^>]*style="[^"]*' + GOLFER, svg)
    drops = []
    for axis, path in enumerate(paths):
        y = path_points(path)[:, 1]
        curve = placement.swing.curve.values_cm[axis]
        drops.append((y.max() - y.min()) / np.ptp(curve[::2]))
    assert len(drops) == 3
    assert drops == pytest.approx([drops[0]] * 3, rel=0.01)


def test_a_nearly_flat_curve_keeps_a_panel_and_everything_stays_in_the_picture(withheld_placement):
    swing = withheld_placement.swing
    flat = replace(swing.curve, values_cm=swing.curve.values_cm * [[1.0], [0.02], [0.02]])
    svg = placement_figure(replace(withheld_placement, swing=replace(swing, curve=flat)), unit="cm")
    height = float(re.search(r'viewBox="0 0 \d+ (\d+)"', svg).group(1))
    heights = np.concatenate(
        [path_points(path)[:, 1] for path in re.findall(r'<path d="(M[^CQ"]+)" clip-path', svg)]
    )
    assert heights.min() > 0
    assert heights.max() < height


def test_the_readers_unit_scales_the_curves(placement):
    inches = shown_curves(placement.bands, 0, "in")[50.0]
    centimetres = shown_curves(placement.bands, 0, "cm")[50.0]
    assert inches * 2.54 == pytest.approx(centimetres)


def test_pictures_hold_no_address_date_or_metadata_and_repeat_byte_for_byte(placement, edition):
    cells = edition.cells[:6]
    for draw in (
        lambda: placement_figure(placement, unit="in"),
        lambda: cells_figure(cells, name="a", club="driver", unit="in"),
    ):
        svg = draw()
        assert svg == draw()
        assert "http" not in svg
        assert "metadata" not in svg
        assert "DOCTYPE" not in svg


def test_words_of_a_picture_are_escaped():
    with drawing("x"):
        svg = inline_svg(new_figure(10, 10), name="x", title="<b>&", description="<i>")
    assert "&lt;b&gt;&amp;" in svg
    assert "<i>" not in svg


def test_a_club_whose_cells_are_all_withheld_still_names_them(edition):
    withheld = [cell for cell in edition.cells if cell.bands is None]
    svg = cells_figure(withheld, name="none", club="driver", unit="in")
    assert svg.count("withheld") >= 2 * len(withheld)


@pytest.mark.parametrize(
    ("value", "mark"), [(9.5, "<circle"), (-40.0, "M1 9l8"), (90.0, "M119 9l-8")]
)
def test_a_strip_marks_the_swing_inside_or_at_its_edge(make_place, value, mark):
    assert mark in place_strip(make_place("sway_travel", value, range(20)), "in")


def test_a_strip_is_left_out_where_there_is_no_range(make_place):
    place = make_place("sway_travel", 9.5, range(20))
    assert place_strip(replace(place, peers_low=None), "in") is None
    assert place_strip(replace(place, value=None), "in") is None
    assert place_strip(replace(place, peers_low=5.0, peers_high=5.0), "in") is None


def test_the_strip_puts_the_ends_of_the_range_at_the_ends_of_the_bar(make_place):
    place = make_place("sway_travel", 9.5, range(20))
    for value, x in ((place.peers_low, "36.0"), (place.peers_high, "84.0")):
        assert f'cx="{x}"' in place_strip(replace(place, value=value), "in")
