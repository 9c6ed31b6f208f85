"""Each section of an edition's page says what the edition holds, and nothing more."""

import csv
import re
from collections import defaultdict
from dataclasses import replace
from html import unescape
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from norms.cohort.annex_contents import (
    club_centiles,
    partition_answers,
    sufficiencies,
    whole_curve_bands,
)
from norms.cohort.centiles import centile_chart
from norms.records import CohortDefinition
from reports.atlas.calibration import calibration_tables
from reports.atlas.golfers import attrition_section, flags_section
from reports.atlas.handicap import READ_AT, handicap_section
from reports.edition_page import edition_golfers, edition_page, edition_swings, sorted_cells
from reports.figures.centile_chart import CHART_HANDICAPS, FeatureChart, centile_charts
from reports.quantities import handicap_words, node_words, number

RESULTS = Path(__file__).parents[1] / "calibration" / "results"


@pytest.fixture(scope="module")
def page(small_academy):
    return edition_page(small_academy.edition, unit="cm")


def section(page, name):
    """Text of a section, tags taken out."""
    start = page.index(f'<section id="{name}"')
    body = page[start : page.index("</section>", start)]
    body = re.sub(r"<svg.*?</svg>", " ", body, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", body))).replace("\xa0", " ")


def test_the_page_is_the_same_twice_and_of_bearable_size(small_academy, page):
    assert edition_page(small_academy.edition, unit="cm") == page
    assert len(page) < 1_500_000


def test_whole_curve_bands_stand_beside_pointwise_ones_under_their_own_names(small_academy, page):
    said = section(page, "whole-curves")
    bands = whole_curve_bands(small_academy.edition)["driver/all"]
    assert "whole-curve band, the three curves together: 90 %" in said
    assert "whole-curve band of this curve alone: 90 %" in said
    assert "pointwise middle 90 %" in said
    assert number(bands.joint_factor, 2) in said
    assert "0.10 cm, the labs’ noise" in said
    assert bands.band_of.replace("'", "’") in said
    assert "withheld:" in said


def test_centiles_are_shown_with_the_golfers_behind_them(small_academy, page):
    said = section(page, "handicap")
    centiles = club_centiles(small_academy.edition)["driver"]
    assert f"{centiles.golfers} golfers with a handicap" in said
    assert f"{centiles.without_handicap} golfers without a handicap" in said
    chart = centile_chart(centiles.features["sway_travel"], [10.0], percents=(10, 50, 90))
    low, middle, high = (number(float(x), 1) for x in chart.value[0, :, 0])
    assert f"{handicap_words(10.0)} ({chart.golfers[0]} golfers)" in said
    sure = " to ".join(number(float(x[0, 1, 0]), 1) for x in (chart.low, chart.high))
    assert f"{middle} ({sure}) {low} to {high}" in said


def test_where_no_golfers_are_there_is_neither_number_nor_line(small_academy):
    centiles = club_centiles(small_academy.edition)["driver"].features["sway_travel"]
    chart = centile_chart(centiles, CHART_HANDICAPS)
    empty = np.isnan(chart.value).all(axis=(0, 1))
    assert empty.any()
    assert not empty.all()
    svg = centile_charts(
        [FeatureChart(chart=chart)], centiles.support, name="a", club="driver", unit="cm"
    )
    path = re.search(r'<path d="(M[^"]+)"[^>]*stroke-dasharray: 1.5', svg).group(1)
    steps = [float(x) for x in re.findall(r"[Ml]\s*(-?[\d.]+)", path)]
    wide = 109.0 / (CHART_HANDICAPS[-1] - CHART_HANDICAPS[0])
    inside = CHART_HANDICAPS[~empty]
    assert sum(steps[1:]) == pytest.approx((inside[-1] - inside[0]) * wide, abs=0.3)
    assert steps[0] == pytest.approx(26.0 + (inside[0] - CHART_HANDICAPS[0]) * wide, abs=0.3)


def test_unsupported_handicaps_of_the_table_are_dashes(small_academy, page):
    centiles = club_centiles(small_academy.edition)["driver"].features["sway_travel"]
    chart = centile_chart(centiles, READ_AT)
    missing = int(np.isnan(chart.value[0, 3]).sum())
    start = page.index("<caption>Median")
    row = page[page.index('<tr><th scope="row">Forward travel', start) :]
    row = row[: row.index("</tr>")]
    assert row.count("<td>–</td>") == missing > 0


def test_diagnostics_show_worms_shares_and_tests(small_academy, page):
    said = section(page, "handicap")
    told = club_centiles(small_academy.edition)["driver"].features["tempo"].diagnostics
    shares = " / ".join(number(float(told.share_below_pct[0, 0, at]), 0) for at in (0, 3, 6))
    assert shares in said
    assert page.count("Worm plots of the centiles over handicap") == 2
    assert "smallest p =" in said


def test_every_partition_question_is_answered_in_words_with_its_evidence(small_academy, page):
    said = section(page, "partitions")
    answers = partition_answers(small_academy.edition)
    words = {"own": "own norms needed", "shared": "may share norms", "undecided": "undecided"}
    for answer in answers.values():
        question = answer.question[0].upper() + answer.question[1:]
        assert f"{question}: {words[answer.verdict]}." in said
        assert f"Largest difference {number(answer.curves.largest_t, 2)} errors" in said
    assert "9 questions were asked together" in said
    assert len(answers) == 9


def test_grades_and_needs_of_every_group_stand_on_the_page(small_academy, page):
    said = section(page, "golfers")
    for one in sufficiencies(small_academy.edition):
        label = one.cohort_label[0].upper() + one.cohort_label[1:]
        need = f"{one.more_to_establish}" if one.more_to_establish else "–"
        show = f"{one.more_to_show}" if one.more_to_show else "–"
        assert f"{label} {one.grade} {one.golfers} {show} {need}" in said


def test_attrition_stands_rule_by_rule_for_every_group(small_academy, page):
    said = section(page, "golfers")
    for step in small_academy.edition.evidence["attrition"]["driver/all"]:
        rule = step["rule"][0].upper() + step["rule"][1:]
        assert (
            f"{rule} {step['swings']} {step['golfers']} {step['swings_left']} "
            f"{step['golfers_left']}" in said
        )
    assert "Nobody was left out by a person’s decision." in said


def test_exclusions_name_who_decided_and_why(small_academy, out_of_norms):
    edition = small_academy.build(exclusions=(out_of_norms,))
    assert attrition_section(edition, edition.cells)["decisions"] == [
        {
            "golfer": "Q0050",
            "swings": "4 swings",
            "reason": "wore a brace",
            "decided_by": "head coach",
        }
    ]


def test_who_is_missing_is_held_against_the_roster(small_academy, page):
    said = section(page, "membership")
    for row in small_academy.edition.evidence["who_is_missing"]["driver/all"]:
        assert f"{row['roster']} {row['cohort']} " in said


def test_flagged_golfers_are_named_by_code_only_where_the_academys_evidence_is(small_academy, page):
    edition = small_academy.edition
    assert "Q0050 Rise to impact level" in section(page, "golfers")
    elsewhere = replace(edition, evidence={})
    told = flags_section(elsewhere, edition.cells, "cm")
    assert told["rows"] == []
    assert told["counts"] == flags_section(edition, edition.cells, "cm")["counts"]
    assert attrition_section(elsewhere, edition.cells)["decisions"] == []


def test_methods_have_references_and_every_choice_is_listed(small_academy, page):
    said = section(page, "methods")
    for author in ("Hyndman", "Diquigiovanni", "Jones and Pewsey", "Harris and Boyd", "Buuren"):
        assert author in said
    choices = small_academy.edition.parameters["annexes"]
    assert f"Seed {choices['seed']}" in said
    assert f"{choices['relabellings']}" in said
    assert choices["noise_source"] in said


def test_an_edition_without_annexes_has_a_page_without_their_sections(small_academy):
    edition = small_academy.edition
    plain = {k: v for k, v in edition.parameters.items() if k != "annexes"}
    page = edition_page(replace(edition, annexes=(), parameters=plain))
    for name in ("whole-curves", "handicap", "partitions", "calibration"):
        assert f'id="{name}"' not in page
    assert "Diquigiovanni" not in page


def test_named_cohorts_stand_beside_all_levels_and_count_no_swing_twice(small_academy):
    edition = small_academy.edition
    whole = edition.cell("driver/all")
    definition = CohortDefinition(key="women", club="driver", name="women", title="Women, driver")
    named = replace(whole, cohort=replace(whole.cohort, definition=definition))
    more = replace(edition, cells=(*edition.cells, named))
    assert edition_swings(more) == edition_swings(edition) == len(small_academy.pool.swings)
    assert edition_golfers(more) == 96
    drivers = [c for c in sorted_cells(more) if c.cohort.definition.club == "driver"]
    assert drivers[-1].cohort.definition.name == "women"
    assert "Women, driver" in edition_page(replace(more, annexes=()))


def test_centiles_of_groups_are_drawn_and_named_apart(small_academy):
    pool = small_academy.pool
    women = np.array([small_academy.golfers[code].sex == "female" for code in pool.golfers])
    features = pool.features.copy()
    features[women, 0] += 4.0
    edition = replace(small_academy, pool=replace(pool, features=features)).build()
    told = handicap_section(edition, "cm")["clubs"][0]
    assert ">women, cm<" in told["charts"]
    assert ">Forward travel, men,<" in told["charts"]
    rows = [row["subject"] for row in told["table"]["rows"]]
    assert rows[:2] == ["Forward travel, women", "Forward travel, men"]
    assert rows[2:] == [row["subject"] for row in told["fits"]][1:]
    assert "with sex" in told["fits"][0]["form"]
    for row in told["fits"]:
        for part in row["freedom"].split(" / "):
            used, offered = map(float, part.split(" of "))
            assert 1.0 <= used <= offered


def test_a_club_without_centiles_says_why(small_academy):
    few = {code: small_academy.golfers[code] for code in list(small_academy.golfers)[:40]}
    edition = replace(small_academy, golfers=few).build()
    told = handicap_section(edition, "cm")
    assert told["clubs"] == []
    assert [one["club"] for one in told["withheld"]] == ["Driver", "Iron 7"]
    assert "need 60 golfers" in told["withheld"][0]["why"]


def test_places_in_the_swing_are_said_in_words():
    assert node_words(0) == "at the start"
    assert node_words(100) == "at the top"
    assert node_words(200) == "at impact"
    assert node_words(80) == "at 80 % of the backswing"
    assert node_words(250) == "at 50 % of the follow-through"


# The calibration figures of the package are those that the simulations left.


def shipped():
    text = files("reports").joinpath("calibration.csv").read_text(encoding="utf-8")
    rows = defaultdict(dict)
    for row in csv.DictReader(text.splitlines()):
        rows[row["kind"]][row["case"], row["golfers"]] = float(row["measured"])
    return rows


def results(name):
    return list(csv.DictReader((RESULTS / name).read_text(encoding="utf-8").splitlines()))


def test_shipped_whole_curve_and_partition_figures_are_the_simulations():
    rows = shipped()
    for one in results("whole_curve_bands.csv"):
        case = (f"{one['curves']} curves, {one['level']}", one["golfers"])
        assert rows["whole_curve"][case] == float(one["leave_one_out_joint_pct"])
        assert rows["pointwise"][case] == float(one["pointwise_joint_pct"])
    for one in results("partition_test.csv"):
        golfers = f"{one['first_golfers']} and {one['second_golfers']}"
        shown = rows["partition"][f"{one['comparison']}, {one['level']}", golfers]
        assert shown == pytest.approx(float(one["rejected_pct"]), abs=0.051)


def test_shipped_percentile_and_centile_figures_are_the_worst_of_the_simulations():
    rows = shipped()
    lowest = defaultdict(lambda: 100.0)
    for one in results("percentile_intervals.csv"):
        if one["coverage"]:
            case = (one["distribution"], one["golfers"])
            lowest[case] = min(lowest[case], 100.0 * float(one["coverage"]))
    assert rows["percentile_interval"] == pytest.approx(dict(lowest), abs=0.051)
    lowest.clear()
    for one in results("weighted_percentile_intervals.csv"):
        case = (f"{one['distribution']}, design effect {one['design_effect']}", one["golfers"])
        lowest[case] = min(lowest[case], 100.0 * float(one["coverage"]))
    assert rows["weighted_interval"] == pytest.approx(dict(lowest), abs=0.051)
    worst = defaultdict(float)
    for one in results("curve_centiles.csv"):
        case = (f"curves, {'overall' if one['part'] == 'all' else 'worst third'}", one["golfers"])
        off = abs(float(one["share_below_pct"]) - float(one["percent"]))
        worst[case] = max(worst[case], off)
    shapes = {"family": "a shape the model has", "gamma": "a shape it lacks (gamma)"}
    for one in results("centiles.csv"):
        if one["percent"]:
            part = "overall" if one["part"] == "all" else "worst third"
            case = (f"features, {shapes[one['golfers_kind']]}, {part}", one["golfers"])
            off = abs(float(one["share_below_pct"]) - float(one["percent"]))
            worst[case] = max(worst[case], off)
    assert rows["centile"] == pytest.approx(dict(worst), abs=0.051)


def test_every_calibrated_promise_has_a_table_with_rows():
    tables = calibration_tables()
    assert len(tables) == 6
    assert all(table["rows"] and table["golfers"] for table in tables)
