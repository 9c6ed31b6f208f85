import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from norms.records import FileOutcome
from norms.vocabulary import AXIS_ENDS
from reports.collect_page import collect_lead, collect_page
from reports.edition_page import edition_golfers, edition_page, edition_swings, sorted_cells
from reports.index_page import KeyNumber, Link, Step, index_page
from reports.placement_page import placement_page
from reports.render import tied

VOID = {"meta", "br", "link", "img", "hr", "input"}
HOSTILE = '<script>alert("Q1")</script>'


class Outline(HTMLParser):
    """Tags in balance, identifiers, references between them, and the text seen."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.ids, self.refs, self.text = [], [], [], []
        self.tags, self.attributes = Counter(), []

    def handle_starttag(self, tag, attrs):
        self._note(tag, attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self._note(tag, attrs)

    def handle_endtag(self, tag):
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.text.append(data)

    def _note(self, tag, attrs):
        self.tags[tag] += 1
        for name, value in attrs:
            self.attributes.append((tag, name, value))
            if name == "id":
                self.ids.append(value)
            if name in ("aria-labelledby",):
                self.refs.extend(value.split())
            if name == "href" and value.startswith("#"):
                self.refs.append(value[1:])
            self.refs.extend(re.findall(r"url\(#([^)]+)\)", value or ""))


def outline(page):
    parser = Outline()
    parser.feed(page)
    parser.close()
    assert parser.open == []
    return parser


def outcome(source, status, *, lab="North bay", code="ok", message="", swing=None):
    return FileOutcome(
        source=source, lab=lab, status=status, code=code, message=message, swing=swing
    )


OUTCOMES = (
    outcome("disk/home/captures/a1.c3d", "accepted", swing="Q0001-1"),
    outcome("disk/home/captures/a2.c3d", "accepted", lab="Range hut", swing="Q0002-1"),
    outcome(
        "disk/home/captures/b1.c3d",
        "rejected",
        code="file_cut_short",
        message="holds 120 of 400 frames; copy it again",
    ),
    outcome(
        "disk/home/captures/b2.c3d",
        "accepted_with_warnings",
        lab="Range hut",
        code="gap_filled",
        message="left_asis: a gap of 0.05 s was filled",
    ),
    outcome(
        "disk/home/captures/b3.c3d",
        "duplicate",
        code="duplicate",
        message="same content as a1.c3d",
        swing="Q0001-1",
    ),
)


@pytest.fixture(scope="module")
def pages(placement, withheld_placement, edition):
    return {
        "placement": placement_page(placement),
        "placement_cm": placement_page(placement, unit="cm"),
        "withheld": placement_page(withheld_placement),
        "edition": edition_page(edition),
        "collect": collect_page(OUTCOMES),
        "collect_none": collect_page(()),
        "index": index_page(
            "Quillmere Academy",
            summary="An invented academy.",
            numbers=[KeyNumber(value="248", label="golfers")],
            steps=[
                Step(
                    title="Place",
                    text="Forward travel 4.1 in.",
                    command="norms place capture.c3d",
                    links=(Link(href="placement.html", words="The placement"),),
                )
            ],
        ),
    }


NAMES = ("placement", "placement_cm", "withheld", "edition", "collect", "collect_none", "index")


@pytest.mark.parametrize("name", NAMES)
def test_pages_are_well_formed_and_self_contained(pages, name):
    page = pages[name]
    parsed = outline(page)
    assert page.startswith("<!DOCTYPE html>")
    assert parsed.tags["h1"] == 1
    assert parsed.tags["script"] == parsed.tags["link"] == parsed.tags["img"] == 0
    assert "://" not in page
    assert "@import" not in page
    assert not re.search(r"\b(nan|None|inf)\b", " ".join(parsed.text))
    assert "Undefined" not in page


@pytest.mark.parametrize("name", NAMES)
def test_identifiers_are_unique_and_every_reference_is_met(pages, name):
    parsed = outline(pages[name])
    assert [i for i, n in Counter(parsed.ids).items() if n > 1] == []
    assert set(parsed.refs) <= set(parsed.ids)


@pytest.mark.parametrize("name", ["placement", "withheld", "edition"])
def test_every_picture_says_what_it_shows_and_has_a_table_on_its_page(pages, name):
    page = pages[name]
    pictures = re.findall(r"<svg.*?</svg>", page, flags=re.DOTALL)
    assert pictures
    for picture in pictures:
        assert 'role="img"' in picture
        assert re.search(r"<title id=[^>]+>[^<]{10,}</title>", picture)
        assert re.search(r"<desc id=[^>]+>[^<]{10,}</desc>", picture)
    assert outline(page).tags["table"] >= 1


def test_the_same_record_gives_the_same_bytes(placement, edition, pages):
    assert placement_page(placement) == pages["placement"]
    assert edition_page(edition) == pages["edition"]
    assert collect_page(tuple(reversed(OUTCOMES))) == pages["collect"]


def test_hostile_codes_are_only_text(make_placement, edition):
    hostile = make_placement(golfer=HOSTILE)
    hostile = replace(hostile, cautions=(HOSTILE,), cohort_label=HOSTILE, edition=HOSTILE)
    for page in (
        placement_page(hostile),
        edition_page(replace(edition, name=HOSTILE, attrition={HOSTILE: 1})),
        collect_page([outcome(HOSTILE, "rejected", lab=HOSTILE, code=HOSTILE, message=HOSTILE)]),
        index_page(HOSTILE, summary=HOSTILE, steps=[Step(title=HOSTILE, text=HOSTILE)]),
    ):
        parsed = outline(page)
        assert parsed.tags["script"] == 0
        assert HOSTILE.split("(")[0] in "".join(parsed.text)


def test_possessives_are_curled_quotes_left_alone_and_numbers_tied_to_units():
    assert tied("the peers' range, a golfer's 4.1 in, marker 'rear left' was") == (
        "the peers’ range, a golfer’s 4.1\u00a0in, marker &#39;rear left&#39; was"
    )


def test_findings_and_features_stand_on_the_sheet_alone(pages):
    page = pages["placement"].split("</style>")[1]
    assert page.index("<svg") < page.index('class="curves"')
    assert 'class="percentile"' not in page
    assert "stands out" not in page


def test_the_placement_states_who_when_against_whom_and_from_what(pages):
    text = "".join(outline(pages["placement"]).text).replace("\u00a0", " ")
    for words in (
        "Q0042",
        "14 May 2026",
        "Driver",
        "North bay",
        "41 golfers",
        "Handicap that day: 9.4",
        "spring 2026",
        "left out",
        "c0ffeec0ffee",
        "Harrington",
        "stand-in",
        "not a target",
        "The top was found from the hands",
        "licensed physician",
    ):
        assert words in text, words


def test_each_axis_has_its_title_and_words_at_both_ends(pages):
    for axis, ends in AXIS_ENDS.items():
        for words in (axis.capitalize(), *ends):
            assert words in pages["placement"]


def test_what_rests_on_stand_ins_is_said_before_the_picture(placement):
    feet = replace(placement, swing=replace(placement.swing, axes_source="feet_line"))
    for record, words in (
        (placement, "less sure: top."),
        (feet, "less sure: top and target line."),
    ):
        page = placement_page(record)
        assert page.index(words) < page.index("<svg")
    marks = placement.swing.events
    sure = replace(marks, top=replace(marks.top, stand_in=False))
    page = placement_page(replace(placement, swing=replace(placement.swing, events=sure)))
    assert "less sure" not in page


def test_the_page_of_several_swings_says_what_is_of_the_newest_alone(placement):
    page = placement_page(placement, swings=3).replace("\u00a0", " ")
    assert not re.search(r"this swing|one swing|this backswing", page, re.IGNORECASE)
    for words in (
        "mean of 3 swings, the newest of ",
        '<th scope="col">Mean of 3 swings</th>',
        "Events of the newest of the 3 swings, in seconds from the start of the capture",
        "In time the backswing of the newest of the 3 swings took",
        "What is said of one capture is of the newest of the 3 swings.",
        "a solid line shows mean of 3 swings from start to finish",
    ):
        assert words in page, words
    assert "newest" not in placement_page(placement)


def test_a_withheld_cell_shows_no_percentile_and_no_peers_range(make_placement):
    held = make_placement(peers=41)
    page = placement_page(replace(held, bands=None, withheld="kept back for the test"))
    page = page.split("</style>")[1]
    assert 'class="percentile"' not in page
    assert "strip-range" not in page
    assert "swatch-80" not in page
    assert "median" not in "".join(re.findall(r"<svg.*?</svg>", page, flags=re.DOTALL)).lower()
    assert "kept back for the test" in page


def test_a_small_group_shows_only_the_bands_it_supports(make_placement):
    body = placement_page(make_placement(peers=24)).split("</style>")[1]
    assert "middle 50 % of 24 peers" in body
    assert "middle 80 % of 24 peers" not in body
    assert "middle 90 % of 24 peers" not in body


def test_a_plus_handicap_and_no_handicap_are_written_as_golfers_do(placement):
    assert "Handicap that day: +1.8." in placement_page(replace(placement, handicap=-1.8))
    assert "Handicap that day: none." in placement_page(replace(placement, handicap=None))


def test_an_unknown_unit_is_refused_before_anything_is_drawn(placement, edition):
    with pytest.raises(ValueError, match="yard"):
        placement_page(placement, unit="yard")
    with pytest.raises(ValueError, match="yard"):
        edition_page(edition, unit="yard")


def test_an_edition_page_counts_golfers_once_and_swings_once(edition, pages):
    assert edition_golfers(edition) == 174
    assert edition_swings(edition) == 2 * 174 * 6
    text = "".join(outline(pages["edition"]).text).replace("\u00a0", " ")
    assert "174 golfers, 2,088 swings" in text
    assert "Of 12 groups, 10 carry norms; 2 withheld" in text
    assert "12 golfers where 20 are needed" in text
    assert "golfer did not agree to norms" in text


def test_an_edition_page_names_no_golfer(edition, pages):
    codes = {code for cell in edition.cells for code in cell.cohort.golfers}
    assert not any(code in pages["edition"] for code in codes)


def test_levels_stand_from_the_best_handicap_to_all(edition):
    levels = [c.cohort.definition.level for c in sorted_cells(edition)][:6]
    keys = [level.key if level else "all" for level in levels]
    assert keys == ["0_or_better", "to_5", "to_12", "none", "professional", "all"]


def test_a_cells_limits_carry_their_interval_and_count(edition, pages):
    cell = edition.cell("driver/to_5")
    column = cell.bands.feature_names.index("sway_travel")
    row = cell.bands.percents.index(50.0)
    value, low, high = (
        limits[row, column] / 2.54
        for limits in (cell.bands.feature, cell.bands.feature_low, cell.bands.feature_high)
    )
    assert f"{value:.1f} ({low:.1f} to {high:.1f})" in pages["edition"]


def test_a_feature_with_fewer_golfers_than_its_cell_shows_dashes(edition):
    cell = edition.cell("driver/to_5")
    feature = np.array(cell.bands.feature)
    feature[:, cell.bands.feature_names.index("tempo")] = np.nan
    thin = replace(edition, cells=(replace(cell, bands=replace(cell.bands, feature=feature)),))
    rows = re.findall(r'<th scope="row">Tempo</th>(.*?)</tr>', edition_page(thin))
    assert len(rows) == 1
    assert rows[0].count("–") == 4


def test_a_collecting_page_lists_every_file_that_is_not_simply_accepted(pages):
    text = "".join(outline(pages["collect"]).text).replace("\u00a0", " ")
    assert collect_lead(OUTCOMES) in text
    for words in (
        "captures/b1.c3d",
        "holds 120 of 400 frames",
        "captures/b2.c3d",
        "a gap of 0.05 s was filled",
        "captures/b3.c3d",
        "same content as a1.c3d",
        "File cut short",
    ):
        assert words in text
    assert "a2.c3d" not in text
    assert "disk/home" not in text


def test_a_link_out_of_the_folder_is_refused():
    step = Step(title="x", text="y", links=(Link(href="https://example.invalid/", words="z"),))
    with pytest.raises(ValueError, match="relative"):
        index_page("t", summary="s", steps=[step])
