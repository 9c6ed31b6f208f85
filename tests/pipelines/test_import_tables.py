from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from norms.errors import TableRefused
from norms.records import BallSpeed, DatedHandicap, Golfer
from pipelines.import_tables import import_ball_speeds, import_roster
from pipelines.store import open_store

ROSTER = """golfer,sex,birth_year,hand,height_cm,mass_kg,professional,consents_norms
Q0001,female,1990,left,171.5,64,false,true
Q0002,,,right,,,yes,no
"""
HANDICAPS = """golfer,date,handicap_index
Q0001,2026-03-01,-0.5
Q0001,2025-03-01,+2.4
"""
FIRST = Golfer(
    code="Q0001",
    sex="female",
    birth_year=1990,
    hand="left",
    height_cm=171.5,
    mass_kg=64.0,
    handicaps=(
        DatedHandicap(since=date(2025, 3, 1), index=-2.4),
        DatedHandicap(since=date(2026, 3, 1), index=-0.5),
    ),
)
SECOND = Golfer(code="Q0002", hand="right", professional=True, consents_norms=False)


@pytest.fixture
def store():
    with open_store(":memory:") as opened:
        yield opened


@pytest.fixture
def write(tmp_path):
    def write_table(text, name="table.csv"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write_table


def refusal(do, *arguments) -> TableRefused:
    with pytest.raises(TableRefused) as refused:
        do(*arguments)
    return refused.value


# The roster


def test_a_roster_and_its_handicaps_are_read(store, write):
    count = import_roster(store, write(ROSTER, "r.csv"), write(HANDICAPS, "h.csv"))
    assert count == 2
    assert store.golfers() == {"Q0001": FIRST, "Q0002": SECOND}


def variants():
    rows = [line.split(",") for line in ROSTER.splitlines()]
    backwards = "\n".join(",".join(reversed(row)) for row in rows)
    more = "\n".join(",".join([*row, "a note"]) for row in rows)
    return {
        "byte order mark": "\ufeff" + ROSTER,
        "CRLF": ROSTER.replace("\n", "\r\n"),
        "CR": ROSTER.replace("\n", "\r"),
        "no last line end": ROSTER.rstrip(),
        "semicolons and decimal commas": ROSTER.replace(",", ";").replace(".", ","),
        "tabs": ROSTER.replace(",", "\t"),
        "columns in another order": backwards,
        "a column of the academy's own": more,
        "capitals and blanks": ROSTER.replace("golfer,", " Golfer ,").replace("female", " Female "),
        "blank lines": "\n\n" + ROSTER.replace("\n", "\n\n") + ",,,,,,,\n",
        "quotes": '"golfer"' + ROSTER.removeprefix("golfer").replace("Q0001", '"Q0001"'),
    }


@pytest.mark.parametrize("text", variants().values(), ids=variants().keys())
def test_the_ways_a_table_is_written_make_no_difference(store, write, text):
    import_roster(store, write(text, "r.csv"), write(HANDICAPS, "h.csv"))
    assert store.golfers() == {"Q0001": FIRST, "Q0002": SECOND}


def test_columns_that_may_be_unknown_may_be_absent(store, write):
    text = "golfer,hand,professional,consents_norms\nQ0002,right,1,0\n"
    import_roster(store, write(text))
    assert store.golfers() == {"Q0002": SECOND}


def test_a_roster_again_replaces_facts_and_keeps_handicaps_unless_given(store, write):
    import_roster(store, write(ROSTER, "r.csv"), write(HANDICAPS, "h.csv"))
    lighter = write(ROSTER.replace(",64,", ",62,"), "r.csv")
    import_roster(store, lighter)
    assert store.golfer("Q0001").mass_kg == 62.0
    assert store.golfer("Q0001").handicaps == FIRST.handicaps
    import_roster(store, lighter, write("golfer,date,handicap_index\nQ0002,2026-01-01,3\n"))
    assert store.golfer("Q0001").handicaps == ()


@settings(max_examples=30, deadline=None)
@given(tenths=st.integers(-100, 540))
def test_every_handicap_of_the_scale_is_read_as_written(tmp_path_factory, tenths):
    folder = tmp_path_factory.mktemp("handicap")
    sign, whole = ("+", -tenths) if tenths < 0 else ("", tenths)
    roster, handicaps = folder / "r.csv", folder / "h.csv"
    roster.write_text(ROSTER)
    handicaps.write_text(
        f"golfer,date,handicap_index\nQ0001,2026-03-01,{sign}{whole // 10}.{whole % 10}\n"
    )
    with open_store(":memory:") as store:
        import_roster(store, roster, handicaps)
        assert store.golfer("Q0001").handicaps[0].index == tenths / 10


def test_plus_zero_is_zero_without_a_sign(store, write):
    zero = write("golfer,date,handicap_index\nQ0001,2026-03-01,+0.0\n", "h.csv")
    import_roster(store, write(ROSTER, "r.csv"), zero)
    assert str(store.golfer("Q0001").handicaps[0].index) == "0.0"


@pytest.mark.parametrize(
    ("old", "new", "where", "what"),
    [
        (",left,", ",lefty,", "2 hand", '"lefty": allowed is right or left'),
        (",left,", ",,", "2 hand", '"": must be filled in'),
        ("Q0001", "", "2 golfer", '"": must be filled in'),
        ("Q0001", "Q\x0001", "2 golfer", "printable"),
        ("Q0002", "Q" * 65, "3 golfer", "at most 64"),
        ("Q0002", "Q0001", "3 golfer", "already in line 2"),
        ("female", "woman", "2 sex", "allowed is female or male"),
        ("1990", "90", "2 birth_year", "from 1900 to"),
        ("1990", "1890", "2 birth_year", "from 1900 to"),
        ("1990", "2999", "2 birth_year", "leave it empty"),
        ("171.5", "1.715", "2 height_cm", '"1.715": allowed is 80 to 250 cm'),
        ("171.5", "171 cm", "2 height_cm", "is not a number; allowed is 80 to 250 cm"),
        ("171.5", '"171,5"', "2 height_cm", "is not a number"),
        (",64,", ",-64,", "2 mass_kg", "allowed is 15 to 250 kg"),
        (",64,", ",nan,", "2 mass_kg", "is not a number"),
        (",64,", ",1_0_0,", "2 mass_kg", "is not a number"),
        ("yes", "maybe", "3 professional", "allowed is true or false"),
        (",yes,no", ",yes,", "3 consents_norms", "must be filled in"),
        (",yes,no", ",yes", "3 has 7 cells", "where the header has 8"),
        (",yes,no", ",yes,no,", "3 has 9 cells", "where the header has 8"),
    ],
)
def test_a_fault_of_the_roster_is_named_with_line_column_and_value(
    store, write, old, new, where, what
):
    roster = write(ROSTER.replace(old, new, 1), "r.csv")
    refused = refusal(import_roster, store, roster)
    assert refused.message.startswith(f"{roster}:{where}")
    assert what in refused.message
    assert "\n" not in refused.message
    assert refused.code == "table_faults"
    assert store.golfers() == {}


@pytest.mark.parametrize(
    ("row", "what"),
    [
        ("Q0001,2026-03-01,54.1", 'handicap_index "54.1": allowed is +10 to 54.0'),
        ("Q0001,2026-03-01,+10.1", 'handicap_index "+10.1": allowed is +10 to 54.0'),
        ("Q0001,2026-03-01,-11", 'handicap_index "-11": allowed is +10 to 54.0'),
        ("Q0001,2026-03-01,+-3", 'handicap_index "+-3": is not a number'),
        ("Q0001,2026-03-01,++3", 'handicap_index "++3": is not a number'),
        ("Q0001,2026-03-01,scratch", 'handicap_index "scratch": is not a number'),
        ("Q0001,2026-03-01,", 'handicap_index "": must be filled in'),
        ("Q0001,01.03.2026,5", 'date "01.03.2026": is not a day; write it as 2026-04-30'),
        ("Q0001,2026-02-30,5", 'date "2026-02-30": is not a day'),
        ("Q0001,20260301,5", 'date "20260301": is not a day'),
        ("Q0001,0206-03-01,5", 'date "0206-03-01": is before 1950-01-01'),
        ("Q0404,2026-03-01,5", 'golfer "Q0404": is not in '),
    ],
)
def test_a_fault_of_the_handicaps_is_named_and_the_roster_is_not_imported_either(
    store, write, row, what
):
    handicaps = write(f"golfer,date,handicap_index\n{row}\n", "h.csv")
    refused = refusal(import_roster, store, write(ROSTER, "r.csv"), handicaps)
    assert refused.message.startswith(f"{handicaps}:2 {what}")
    assert "\n" not in refused.message
    assert store.golfers() == {}


def test_two_handicaps_of_a_golfer_on_one_day_are_refused(store, write):
    handicaps = write(HANDICAPS + "Q0001,2025-03-01,7\n", "h.csv")
    refused = refusal(import_roster, store, write(ROSTER, "r.csv"), handicaps)
    assert refused.message.startswith(f"{handicaps}:4 golfer, date")
    assert "line 3" in refused.message


def test_every_fault_of_both_tables_is_listed_once_in_order(store, write):
    roster = write(
        ROSTER.replace(",left,", ",l,").replace("1990", "x").replace("yes", "y"), "r.csv"
    )
    handicaps = write(HANDICAPS.replace("+2.4", "+24"), "h.csv")
    lines = refusal(import_roster, store, roster, handicaps).message.splitlines()
    assert lines[0] == "4 faults, nothing was imported:"
    places = [line.split('"')[0].strip() for line in lines[1:]]
    assert places == [
        f"{roster}:2 birth_year",
        f"{roster}:2 hand",
        f"{roster}:3 professional",
        f"{handicaps}:3 handicap_index",
    ]


def test_a_long_list_of_faults_is_cut_and_counted(store, write):
    rows = "".join(f"Q{n:04d},right,no,perhaps\n" for n in range(37))
    roster = write("golfer,hand,professional,consents_norms\n" + rows)
    lines = refusal(import_roster, store, roster).message.splitlines()
    assert lines[0].startswith("37 faults")
    assert lines[-1].strip() == "and 17 more"
    assert len(lines) == 22


def test_lines_are_counted_right_after_a_cell_of_several_lines_and_blank_lines(store, write):
    text = (
        "golfer,note,hand,professional,consents_norms\n"
        'Q1,"one\ntwo\nthree",right,no,no\n'
        "\n"
        "Q2,,both,no,no\n"
    )
    roster = write(text)
    assert refusal(import_roster, store, roster).message.startswith(f"{roster}:6 hand")


def test_a_long_value_is_shortened_in_the_message(store, write):
    roster = write(ROSTER.replace(",left,", f",{'x' * 5000},"))
    assert len(refusal(import_roster, store, roster).message) < 400


# Tables that cannot be read at all


@pytest.mark.parametrize(
    ("content", "code", "what"),
    [
        (b"", "table_empty", "is empty"),
        (b"\xef\xbb\xbf\r\n  \n", "table_empty", "is empty"),
        (b",,,\n", "table_empty", "is empty"),
        (ROSTER.splitlines()[0].encode(), "table_empty", "no rows"),
        (ROSTER.replace("yes", "\xff").encode("latin-1"), "table_not_text", ":3 is not text"),
        (ROSTER.encode("utf-16"), "table_not_text", ":1 is not text"),
        (ROSTER.replace("Q0002", '"Q0002').encode(), "table_not_text", ":3 cannot be read"),
        (ROSTER.replace("consents_norms", "agrees").encode(), "column_missing", "consents_norms"),
        (b"\x00\x01\x02 binary", "column_missing", "has no column golfer"),
        (b"PK\x03\x04\xff\xfe workbook", "table_not_text", "save the table as CSV in UTF-8"),
        (ROSTER.replace("mass_kg", "hand").encode(), "column_repeated", "hand twice"),
        (
            ROSTER.replace("height_cm", "heigth_cm").encode(),
            "column_missing",
            'no column height_cm (is "heigth_cm" meant?',
        ),
    ],
)
def test_a_table_that_cannot_be_trusted_is_refused_in_one_line(store, write, content, code, what):
    roster = write(content)
    refused = refusal(import_roster, store, roster)
    assert refused.code == code
    assert refused.message.startswith(str(roster))
    assert what in refused.message
    assert "\n" not in refused.message
    assert store.golfers() == {}


def test_a_table_that_is_not_there_is_refused(store, tmp_path):
    assert refusal(import_roster, store, tmp_path / "no.csv").code == "table_missing"
    assert refusal(import_roster, store, tmp_path).code == "table_missing"


@settings(max_examples=60, deadline=None)
@given(content=st.binary(max_size=300) | st.text(max_size=300).map(str.encode))
def test_any_content_is_read_or_refused(tmp_path_factory, content):
    path = tmp_path_factory.mktemp("fuzz") / "r.csv"
    path.write_bytes(ROSTER.encode() + content)
    with open_store(":memory:") as store:
        try:
            import_roster(store, path)
        except TableRefused:
            assert store.golfers() == {}


# Ball speeds


@pytest.mark.parametrize(
    ("unit", "ball", "club"), [("mph", "100", "70"), ("kmh", "160.9344", "112.65408")]
)
def test_speeds_are_read_in_the_unit_their_column_names(store, write, unit, ball, club):
    # 1 mph is 1.609344 km/h and 0.44704 m/s exactly (international mile of 1959)
    text = f"swing,ball_speed_{unit},club_speed_{unit}\nS1,{ball},{club}\nS2,{ball},\n"
    assert import_ball_speeds(store, write(text)).count == 2
    speeds = store.ball_speeds()
    assert speeds["S1"].ball_speed_mps == pytest.approx(44.704, rel=1e-12)
    assert speeds["S1"].club_speed_mps == pytest.approx(31.2928, rel=1e-12)
    assert speeds["S2"].club_speed_mps is None


def test_speeds_in_metres_per_second_are_kept_exactly(store, write):
    import_ball_speeds(store, write("ball_speed_mps;swing\n61,7;S1\n"))
    assert store.ball_speeds() == {"S1": BallSpeed(swing="S1", ball_speed_mps=61.7)}


def test_a_missing_speed_stays_missing(store, write):
    text = "swing,ball_speed_mps,club_speed_mps\nS1,,40\nS2,60,\nS3,,\n"
    assert import_ball_speeds(store, write(text)).count == 1
    assert store.ball_speeds() == {"S2": BallSpeed(swing="S2", ball_speed_mps=60.0)}


def test_speeds_again_replace_what_was_stored(store, write):
    import_ball_speeds(store, write("swing,ball_speed_mps\nS1,60\nS2,61\n"))
    import_ball_speeds(store, write("swing,ball_speed_mps\nS1,62\n"))
    assert {s: v.ball_speed_mps for s, v in store.ball_speeds().items()} == {"S1": 62, "S2": 61}


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("swing,ball_speed_mph\nS1,-150\n", ':2 ball_speed_mph "-150": allowed is 12 to 257 mph'),
        ("swing,ball_speed_mph\nS1,0\n", ':2 ball_speed_mph "0": allowed is 12 to 257 mph'),
        ("swing,ball_speed_mps\nS1,150\n", ':2 ball_speed_mps "150": allowed is 5 to 115 mps'),
        ("swing,ball_speed_kmh\nS1,fast\n", ':2 ball_speed_kmh "fast": is not a number'),
        ("swing,ball_speed_mps\nS1,60\nS1,60\n", ':3 swing "S1": is already in line 2'),
        ("swing,ball_speed_mps\n,60\n", ':2 swing "": must be filled in'),
        ("swing,ball_speed_mps,club_speed_mps\nS1,60,-4\n", ':2 club_speed_mps "-4": allowed'),
        ("swing,club_speed_mps\nS1,40\n", ": has no column of ball speed"),
        ("swing,ball_speed\nS1,140\n", ": has no column ball_speed_m"),
        ("ball_speed_mps\n60\n", ": has no column swing"),
        (
            "swing,ball_speed_mph,ball_speed_mps\nS1,100,44\n",
            ": has ball_speed_mph and ball_speed_mps: keep one of them",
        ),
        (
            "swing,ball_speed_mph,club_speed_mph,club_speed_kmh\nS1,100,44,1\n",
            ": has club_speed_mph and club_speed_kmh: keep one of them",
        ),
    ],
)
def test_a_fault_of_the_speeds_is_named_and_nothing_is_imported(store, write, text, what):
    table = write(text)
    refused = refusal(import_ball_speeds, store, table)
    assert refused.message.startswith(f"{table}{what}")
    assert store.ball_speeds() == {}


@pytest.mark.parametrize(
    ("limit", "most", "words"),
    [
        ("LARGEST_TABLE", 50, "holds more than"),
        ("MOST_ROWS", 1, "more than 1 rows"),
        ("MOST_COLUMNS", 7, "more than 7 cells in a row"),
        ("LONGEST_CELL", 9, "more than 9 characters in a cell"),
    ],
)
def test_a_table_beyond_reason_is_refused_in_one_line(
    store, write, monkeypatch, limit, most, words
):
    monkeypatch.setattr(f"pipelines.text_tables.{limit}", most)
    fault = refusal(import_roster, store, write(ROSTER))
    assert fault.code == "table_too_large"
    assert words in fault.message
    assert "\n" not in fault.message
    assert store.golfers() == {}


def test_a_table_without_end_is_read_to_its_limit(store, monkeypatch):
    monkeypatch.setattr("pipelines.text_tables.LARGEST_TABLE", 1_000_000)
    assert refusal(import_roster, store, Path("/dev/zero")).code == "table_too_large"
