"""The methods page: its tables are those that the simulations left, and its words follow them."""

import csv
import re
from collections import defaultdict
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path

import pytest

from norms.swing.catalogue import FEATURE_NAMES
from reports.atlas.methods import every_method
from reports.capture_methods import CAPTURE, NOISE
from reports.edition_page import edition_page
from reports.feature_errors import (
    coverage_words,
    error_of,
    error_tables,
    error_words,
    feature_errors,
    lead_words,
)
from reports.methods_page import methods_page
from reports.phrases import phrase
from reports.simulations import simulation_tables

RESULTS = Path(__file__).parents[1] / "calibration" / "results"
SHIPPED = {
    "feature_errors.csv": "feature_errors.csv",
    "reliability.csv": "results/reliability.csv",
    "study_effects.csv": "results/study_effects.csv",
    "adopt_error_rates.csv": "results/adopt_error_rates.csv",
    "compare_false_alarms.csv": "results/compare_false_alarms.csv",
    "sure_places.csv": "results/sure_places.csv",
    "sure_places_skewed.csv": "results/sure_places_skewed.csv",
    "real_change.csv": "results/real_change.csv",
    "single_case.csv": "results/single_case.csv",
}


class Page(HTMLParser):
    """Rows of every table, in order, and what is linked."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tables: list[list[list[str]]] = []
        self.links: list[str] = []
        self.ids: list[str] = []
        self.tags: set[str] = set()
        self.inside = False
        self.feed(text)

    def handle_starttag(self, tag, attrs) -> None:
        self.tags.add(tag)
        named = dict(attrs)
        self.links += [named["href"]] if tag == "a" else []
        self.ids += [named["id"]] if "id" in named else []
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in ("td", "th"):
            self.tables[-1][-1].append("")
            self.inside = True

    def handle_endtag(self, tag) -> None:
        if tag in ("td", "th"):
            self.inside = False

    def handle_data(self, data) -> None:
        if self.inside:
            self.tables[-1][-1][-1] += data


@pytest.mark.parametrize("result", sorted(SHIPPED))
def test_shipped_results_are_those_that_the_simulations_left(result) -> None:
    """After a simulation was run anew: DEVELOPERS.md, Tests, says how they are copied."""
    shipped = files("reports").joinpath(*SHIPPED[result].split("/"))
    assert shipped.read_bytes() == (RESULTS / result).read_bytes()


def test_every_feature_has_its_error_at_every_rate_noise_and_filter() -> None:
    tables = error_tables("cm")
    assert len(tables) == 4 * 2
    assert [table["title"] for table in tables if table["open"]] == ["240 Hz, cutoff 12 Hz"]
    for table in tables:
        assert table["noises"] == ["0.1 mm", "0.5 mm", "1 mm", "2 mm", "5 mm"]
        assert [row["subject"] for row in table["rows"]] == [
            phrase(name).subject for name in FEATURE_NAMES
        ]


def test_the_page_shows_the_errors_of_the_simulation_in_either_unit() -> None:
    with (RESULTS / "feature_errors.csv").open(encoding="utf-8", newline="") as stream:
        rows = [r for r in csv.DictReader(stream)
                if (r["rate_hz"], r["filter"]) == ("240", "12 Hz")]  # fmt: skip
    for unit, cm, decimals in (("in", 2.54, 3), ("cm", 1.0, 2)):
        shown = Page(methods_page(unit=unit)).tables[0]
        travel = next(row for row in shown if row[0] == "Forward travel")
        wanted = [float(r["rmse"]) / cm for r in rows if r["feature"] == "sway_travel"]
        assert travel[1] == unit
        for text, value in zip(travel[2:7], wanted, strict=True):
            if text.startswith("<"):
                assert value < 0.5 * 10**-decimals
            else:
                assert float(text) == pytest.approx(value, abs=0.5001 * 10**-decimals)
        least = min(float(r["within_2_stated"]) for r in rows if r["feature"] == "sway_travel")
        assert travel[7].replace("\u00a0", " ") == f"{100 * least:.0f} %"


@pytest.mark.parametrize(
    ("error", "kind", "unit", "words"),
    [
        (0.254, "cm", "in", "0.100"),
        (0.254, "cm", "cm", "0.25"),
        (0.0001, "s", "in", "< 0.001"),
        (0.0, "s", "in", "0.000"),
        (2.54, "cm_s", "in", "1.00"),
    ],
)
def test_errors_in_words(error, kind, unit, words) -> None:
    assert error_words(error, kind, unit) == words


def test_an_error_that_was_not_simulated_is_not_made_up() -> None:
    with pytest.raises(KeyError):
        error_of("sway_travel", "241", "1", "12 Hz")


def test_the_sentences_say_what_the_table_says() -> None:
    one = error_of("sway_travel", "240", "1", "12 Hz")
    assert f"by {one.rmse:.2f} cm (root mean square)" in lead_words("cm")
    rows = feature_errors()
    held = sum(row.within_2_stated * row.swings for row in rows) / sum(row.swings for row in rows)
    assert f"{100 * held:.0f} % of errors" in coverage_words()


def test_simulations_are_shown_at_their_worst_and_best() -> None:
    reliability, budget, placing, decisions, studies, tied, editions = simulation_tables()
    measured = defaultdict(list)
    with (RESULTS / "reliability.csv").open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            measured[row["quantity"]].append(100 * float(row["measured"]))
    shift = next(row for row in reliability["rows"] if row[0] == "Interval of a lab’s shift")
    assert shift[1:] == (
        "95.0 %",
        f"{min(measured['lab shift']):.1f} %",
        f"{max(measured['lab shift']):.1f} %",
    )
    # every quantity but a run length, which is no share
    assert len(reliability["rows"]) == len(measured) - 1
    assert [row[0] for row in studies["rows"]] == ["25", "60", "250"]
    with (RESULTS / "single_case.csv").open(encoding="utf-8", newline="") as stream:
        flagged = [100 * float(row["single case"]) for row in csv.DictReader(stream)]
    assert placing["rows"][1][1:] == ("5.0 %", f"{min(flagged):.1f} %", f"{max(flagged):.1f} %")
    with (RESULTS / "noise_budget.csv").open(encoding="utf-8", newline="") as stream:
        skewed = [
            float(row["covered_pct"])
            for row in csv.DictReader(stream)
            if (row["case"], row["golfers"]) == ("skewed", "60")
        ]
    assert ("skewed", "60", f"{min(skewed):.1f} %", f"{max(skewed):.1f} %") in budget["rows"]
    assert len(decisions["rows"]) == 9
    assert len(tied["rows"]) == 12
    for table in (reliability, budget, placing, decisions, studies, tied, editions):
        assert {len(row) for row in table["rows"]} == {len(table["headings"])}


def test_the_page_stands_on_its_own_and_holds_every_method() -> None:
    text = methods_page()
    page = Page(text)
    assert not {"script", "link", "img"} & page.tags
    assert "http" not in text
    assert all(link[0] == "#" and link[1:] in page.ids for link in page.links)
    entries = [words for words, _ in CAPTURE + NOISE] + [one["words"] for one in every_method()]
    assert text.count("<li>") >= len(entries)
    for reference in ("Harrington", "Winter", "Weir (2005)", "Harris (1974)", "Jones and Pewsey"):
        assert reference in text
    assert methods_page() == text


def test_a_unit_that_pages_do_not_show_is_refused() -> None:
    with pytest.raises(ValueError, match="unit"):
        methods_page(unit="mm")


def test_the_edition_page_links_to_the_methods_only_where_they_lie_beside_it(edition) -> None:
    assert 'href="methods.html"' in edition_page(edition, methods_href="methods.html")
    assert "methods.html" not in edition_page(edition)


def test_every_row_is_of_a_feature_of_the_catalogue_and_none_is_empty() -> None:
    assert {row.feature for row in feature_errors()} == set(FEATURE_NAMES)
    assert not re.search(r"\bnan\b", methods_page())
