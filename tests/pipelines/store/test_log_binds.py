"""The log binds what the tables hold: whatever is changed behind its back is found and named."""

from datetime import UTC, date, datetime
from importlib import resources

import pytest

from norms.errors import StoreRefused
from norms.records import BallSpeed, DatedHandicap, Exclusion, Golfer
from norms.records.consent import Consent
from norms.records.progress import GolferEvent
from pipelines.audit import accept_tables, edition_said, read_log
from pipelines.store import open_store
from pipelines.store.database import tables_written
from pipelines.store.digests import table_digests


def behind_the_log(store, sql):
    store._database._connection.execute(sql)


@pytest.fixture
def lived_in(store, make_edition, make_swing):
    """A store in which something of most kinds was entered."""
    handicap = DatedHandicap(since=date(2026, 1, 1), index=4.0)
    store.add_golfers(
        [
            Golfer(code="Q0002", hand="left", handicaps=(handicap,)),
            Golfer(code="Q0003", hand="right"),
        ]
    )
    store.add_swings([make_swing(1), make_swing(2)], [], store.begin_run("bay", datetime.now(UTC)))
    store.add_ball_speeds([BallSpeed(swing=make_swing(1).label.swing, ball_speed_mps=60.0)])
    store.consents.add(
        [Consent(golfer="Q0002", purpose="norms", given=False, decided_on=date(2026, 2, 1))]
    )
    store.golfer_shelf.mark(GolferEvent(golfer="Q0001", day=date(2026, 3, 1), kind="lesson"))
    store.add_exclusion(
        Exclusion(golfer="Q0003", swing=None, reason="ill", decided_by="coach"), datetime.now(UTC)
    )
    store.set_setting("academy", {"smallest_cell": 7})
    edition = make_edition("spring")
    with store.act("build", details=edition_said(edition)):
        store.save_edition(edition, datetime.now(UTC))
    assert read_log(store).faults == ()
    return store


@pytest.mark.parametrize(
    ("sql", "table"),
    [
        ("UPDATE consent SET given = true", "consent"),
        ("DELETE FROM consent", "consent"),
        ("UPDATE golfer SET hand = 'right' WHERE code = 'Q0002'", "golfer"),
        ("UPDATE handicap SET handicap_index = 4.5", "handicap"),
        ("DELETE FROM exclusion", "exclusion"),
        (
            "INSERT INTO exclusion (golfer, reason, decided_by, decided_at) "
            "VALUES ('Q0001', 'x', 'y', now()::TIMESTAMP)",
            "exclusion",
        ),
        ("UPDATE exclusion SET decided_at = decided_at - INTERVAL 10 YEAR", "exclusion"),
        ("UPDATE edition_band SET sway_cm = thrust_cm", "edition_band"),
        ("UPDATE edition_member SET swings = swings + 1", "edition_member"),
        ("UPDATE swing SET lift_cm = thrust_cm", "swing"),
        ("UPDATE swing SET recorded_on = DATE '2016-01-01'", "swing"),
        ("UPDATE swing_feature SET value = value + 1e-9 WHERE value IS NOT NULL", "swing_feature"),
        ("DELETE FROM swing_event WHERE event = 'top'", "swing_event"),
        ("UPDATE ball_speed SET ball_speed_mps = 61", "ball_speed"),
        ("UPDATE golfer_event SET day = day - 1", "golfer_event"),
        ("UPDATE setting SET value = '{}'", "setting"),
        ("DELETE FROM act_change", "act_change"),
        ("DELETE FROM schema_version WHERE version = 2", "schema_version"),
        ("INSERT INTO study_look VALUES (1,'c','study','s','q','p','d',1,now()::TIMESTAMP)",
         "study_look"),
        (
            "INSERT INTO standard_decision VALUES (1,'s','approved','r','w','2026-01-01','h','h',"
            "NULL,'h')",
            "standard_decision",
        ),
    ],
)  # fmt: skip
def test_a_change_behind_the_log_is_found_in_its_table(lived_in, sql, table):
    behind_the_log(lived_in, sql)
    assert any(
        f"table {table} was changed behind the log" in one for one in read_log(lived_in).faults
    )


def test_cutting_the_newest_lines_is_found_by_what_the_tables_hold(lived_in):
    behind_the_log(
        lived_in,
        "DELETE FROM audit_log WHERE number > (SELECT max(number) - 2 FROM audit_log)",
    )
    assert read_log(lived_in).faults


def test_an_act_that_fails_leaves_neither_rows_nor_a_line(lived_in):
    before = (len(lived_in.audit.entries()), table_digests(lived_in._database))

    def half_done():
        with lived_in.act("mark", who="coach"):
            lived_in.set_setting("academy", {"smallest_cell": 9})
            lived_in.golfer_shelf.mark(GolferEvent(golfer="nobody", day=date(2026, 3, 1), kind="x"))

    with pytest.raises(StoreRefused):
        half_done()
    assert (len(lived_in.audit.entries()), table_digests(lived_in._database)) == before


def test_what_no_job_declared_is_logged_all_the_same(store):
    store.set_setting("academy", {})
    assert store.audit.entries()[-1].action == "set setting"
    assert read_log(store).faults == ()


def test_writing_the_same_again_leaves_no_line(store):
    store.set_setting("academy", {"a": 1})
    before = len(store.audit.entries())
    store.set_setting("academy", {"a": 1})
    assert len(store.audit.entries()) == before


def test_codes_in_a_reason_stand_as_pseudonyms(store):
    with store.act("mark", who="coach", why="Q0001 and not Q00012, see Q0001_2026.c3d"):
        store.set_setting("academy", {"a": 1})
    details = store.audit.entries()[-1].details
    assert "Q0001_" not in details
    assert "Q0001 " not in details
    assert "Q00012" in details  # on no roster: nobody's code


def test_digests_do_not_depend_on_the_order_of_rows(tmp_path):
    golfers = [Golfer(code=f"Q{n}", hand="right", height_cm=170.0 + n) for n in range(5)]
    found = []
    for order in (golfers, golfers[::-1]):
        with open_store(":memory:") as opened:
            opened._database._connection.execute("UPDATE digest_key SET secret = 'same'")
            for golfer in order:
                opened.add_golfers([golfer])
            found.append(table_digests(opened._database)["golfer"])
    assert found[0] == found[1]


def test_a_digest_does_not_tell_whose_row_it_was(tmp_path):
    """Two stores with the same golfer have nothing in common that a guess could be tried on."""
    found = []
    for _ in range(2):
        with open_store(":memory:") as opened:
            opened.add_golfers([Golfer(code="Q1", hand="right")])
            found.append(table_digests(opened._database)["golfer"].digest)
    assert found[0] != found[1]


def test_a_clock_set_back_does_not_turn_the_log_round(store):
    store.audit.record("backup", "office", {}, at=datetime(2036, 1, 1, tzinfo=UTC))
    store.audit.record("backup", "office", {})
    first, second = store.audit.entries()[-2:]
    assert second.at >= first.at
    assert '"clock"' in second.details
    assert read_log(store).faults == ()


@pytest.mark.parametrize(
    ("text", "tables"),
    [
        ("INSERT INTO swing (code) VALUES (1)", {"swing": False}),
        ("INSERT OR REPLACE INTO golfer SELECT 1", {"golfer": True}),
        ('DELETE FROM "consent" WHERE 1', {"consent": True}),
        ("INSERT INTO a VALUES (1) ON CONFLICT (x) DO UPDATE SET y = 1", {"a": True}),
        ("UPDATE swing SET a = 1 FROM incoming", {"swing": True}),
        ("INSERT OR IGNORE INTO a VALUES (1)", {"a": False}),
        ("-- UPDATE of nothing\nSELECT 1 FROM swing", {}),
        ("DELETE FROM clean.rewrite_due", {}),
    ],
)
def test_tables_that_are_written_are_read_off_the_text(text, tables):
    assert tables_written(text) == tables


def test_no_query_writes_without_the_log_knowing_where():
    folder = resources.files("pipelines.store").joinpath("queries")
    texts = {one.name: one.read_text(encoding="utf-8") for one in folder.iterdir()}
    reads = {
        name for name, text in texts.items() if text.lstrip("-").split()[0].upper() == "SELECT"
    }
    commented = {name for name, text in texts.items() if text.startswith("--")}
    for name in texts.keys() - reads - commented:
        assert tables_written(texts[name]), name


def test_what_was_changed_for_a_good_reason_is_accepted_in_writing(lived_in):
    behind_the_log(lived_in, "UPDATE handicap SET handicap_index = 4.5")
    (fault,) = accept_tables(lived_in, who="director", why="mended by the office with other means")
    assert "handicap" in fault
    reading = read_log(lived_in)
    assert reading.faults == ()
    assert fault in reading.entries[-1].details
    assert accept_tables(lived_in, who="director", why="again") == []
    behind_the_log(lived_in, "UPDATE audit_log SET who = 'x' WHERE number = 2")
    accept_tables(lived_in, who="director", why="again")
    assert "entry 2 was changed" in read_log(lived_in).faults[0]


def test_a_head_noted_by_hand_is_found_again(lived_in):
    head = read_log(lived_in).head
    lived_in.set_setting("academy", {"smallest_cell": 8})
    assert read_log(lived_in, head.upper().replace(":", " : ")).faults == ()
    number, _, digits = head.partition(":")
    assert read_log(lived_in, f"{number}:{digits[::-1]}").faults
