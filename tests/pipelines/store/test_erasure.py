"""A golfer who is erased: gone from every table, every frozen number, and the file's bytes."""

import dataclasses
import json
from datetime import UTC, date, datetime

import duckdb
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from norms.cohort.bands import bands_of
from norms.cohort.edition import build_edition, verify_edition
from norms.cohort.published_limits import published_bands
from norms.errors import NormsError, StoreRefused
from norms.records import (
    BallSpeed,
    DatedHandicap,
    EventCorrection,
    Exclusion,
    FileOutcome,
    Golfer,
    Level,
    SessionHold,
)
from norms.records.consent import Consent
from norms.records.study import StudyFrame
from pipelines.audit import read_log
from pipelines.erase_golfer import erase_golfer, receipt_of
from pipelines.settings import Settings, keep_settings
from pipelines.store import open_store
from pipelines.store.beside import side_files
from pipelines.store.mentions import Mentions

NOON = datetime(2026, 10, 1, 12, tzinfo=UTC)
LEVELS = (Level(key="everyone", label="everyone", kind="handicap"),
          Level(key="none", label="no handicap", kind="none"),
          Level(key="professional", label="professional", kind="professional"))  # fmt: skip
GONE = "Q0003"
CODES = [f"Q{n:04d}" for n in range(1, 13)]


def of(make_swing, number, code):
    swing = make_swing(number, code)
    name = f"{code}_2026-03-{number % 28 + 1:02d}_driver_{number}"
    label = dataclasses.replace(
        swing.label, swing=name, source=f"/captures/{name}.c3d", club="driver"
    )
    return dataclasses.replace(swing, label=label)


def outcome(swing, status="accepted", message=""):
    label = swing.label
    return FileOutcome(
        source=label.source, lab=label.lab, status=status, code="ok", message=message,
        swing=label.swing, content_hash=label.content_hash,
    )  # fmt: skip


def placement_document(golfer):
    return {
        "swing": {"code": f"{golfer}_x", "golfer": golfer},
        "curves": {"swing_cm": {"sway": [1.0]}, "peers_cm": [{"percent": 50.0}]},
        "whole_curve": {"peers": 11, "band_cm": {"low": {}, "high": {}}},
        "features": [{"name": "lift_low", "percentile": 40.0, "peers_range": {"low": 1.0}}],
    }


@pytest.fixture
def plain_bytes(monkeypatch):
    """Files without compression, so that a value that is in them is seen in their bytes."""
    connect = duckdb.connect

    def connect_plainly(*arguments, **settings):
        connection = connect(*arguments, **settings)
        connection.execute("SET force_compression = 'uncompressed'")
        return connection

    monkeypatch.setattr("pipelines.store.holding.duckdb.connect", connect_plainly)


@pytest.fixture
def path(tmp_path, make_swing):
    """A store of twelve golfers with everything that can be kept of a golfer."""
    place = tmp_path / "academy.duckdb"
    swings = [of(make_swing, 12 * k + n, code) for k in range(2) for n, code in enumerate(CODES)]
    with open_store(place, create=True) as store:
        since = DatedHandicap(since=date(2025, 1, 1), index=8.0)
        store.add_golfers([Golfer(code=c, hand="right", handicaps=(since,)) for c in CODES])
        run = store.begin_run("North bay", NOON)
        store.add_swings(swings, [outcome(swing) for swing in swings], run)
        stray = FileOutcome(
            source=f"/captures/{GONE}_bad.c3d", lab="North bay", status="rejected", code="x",
            message=f"{GONE}_bad.c3d: is empty", content_hash="",
        )  # fmt: skip
        store.add_swings([], [stray], store.begin_run("North bay", NOON))
        store.add_ball_speeds(
            [BallSpeed(swing=s.label.swing, ball_speed_mps=60.0) for s in swings]
            + [BallSpeed(swing=f"{GONE}_not_collected", ball_speed_mps=61.0)]
        )
        mine = next(swing for swing in swings if swing.label.golfer == GONE)
        word = EventCorrection(event="top", time_s=1.0, person="coach", reason="seen")
        store.correct_swing(mine, [word], NOON)
        store.add_exclusion(Exclusion(golfer=GONE, reason="ill", decided_by="coach"), NOON)
        store.hold_sessions(
            [SessionHold(lab="North bay", recorded_on=date(2026, 3, 4), held_at=NOON,
                         reason=f"{GONE} and Q0004 moved together")]
        )  # fmt: skip
        store.consents.add(
            [Consent(golfer=GONE, purpose="norms", given=True, decided_on=date(2026, 1, 1))]
        )
        store.audit.record("exclude", "coach", {"of": "golfer"}, golfer=GONE)
        edition = build_edition("spring", store.swing_pool(), store.golfers(), LEVELS)
        evidence = {"left_out": {"every cohort": [
            {"golfer": GONE, "reason": "ill"}, {"golfer": "Q0004", "reason": "ill"},
        ]}}  # fmt: skip
        edition = dataclasses.replace(edition, evidence={**edition.evidence, **evidence})
        store.save_edition(edition, NOON)
        for golfer in (GONE, "Q0005"):
            store._database.rows(
                "add_placement",
                (f"{golfer}_x", golfer, "spring", edition.content_hash, "driver/all",
                 json.dumps(placement_document(golfer))),
            )  # fmt: skip
        store.save_feature_cohort("elsewhere", frame())
    return place


def frame():
    codes = ("Q0001", GONE, GONE, "Q0002")
    return StudyFrame(
        swings=("a", "b", "c", "d"), golfers=codes, clubs=("driver",) * 4, labs=("x",) * 4,
        ball_speed_mps=np.array([60.0, 61.0, 62.0, 63.0]), club_speed_mps=np.full(4, np.nan),
        golfer_facts={"age": np.array([30.0, 40.0, 40.0, 50.0])}, feature_names=("lift_low",),
        feature_units=("cm",), feature_labels=("lowest lift",),
        features=np.array([[1.0], [2.0], [3.0], [4.0]]),
    )  # fmt: skip


def erase(path, golfer=GONE, **more):
    return erase_golfer(path, golfer, why="asked by the golfer", who="data officer", **more)


def traces(path, curves):
    """What of a golfer stands in the raw bytes of the store and everything beside it."""
    found = set()
    for file in path.parent.rglob("*"):
        if not file.is_file():
            continue
        content = file.read_bytes()
        if GONE.encode() in content or GONE in file.name:
            found.add((file.name, "code"))
        for curve in curves:
            for start in range(0, 301 - 8, 8):
                if curve[start : start + 8].tobytes() in content:
                    found.add((file.name, f"curve {curve.dtype}"))
    return found


def own_curves(path):
    """The golfer's curves as the store and the edition keep them, and their decimals."""
    with open_store(path) as store:
        pool = store.swing_pool()
        rows = [place for place, code in enumerate(pool.golfers) if code == GONE]
        single = [row for place in rows for row in pool.curves_cm[place].astype(np.float32)]
        cohort = store.edition("spring").cell("driver/all").cohort
        means = list(cohort.curves_cm[cohort.golfers.index(GONE)])
    return [*single, *means]


def test_nothing_of_the_golfer_is_left_in_the_bytes_of_any_file(plain_bytes, path):
    curves = own_curves(path)
    copy = path.with_name(path.name + ".version-3")
    copy.write_bytes(path.read_bytes())
    before = traces(path, curves)
    assert (path.name, "code") in before  # the search can find what is there
    assert {kind for _, kind in before} == {"code", "curve float32", "curve float64"}
    erase(path)
    assert traces(path, curves) == set()
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_everyone_else_keeps_everything(path):
    with open_store(path) as store:
        pool, speeds, outcomes = store.swing_pool(), store.ball_speeds(), store.outcomes()
    erase(path)
    with open_store(path) as store:
        after = store.swing_pool()
        keep = np.array([code != GONE for code in pool.golfers])
        assert after.golfers == tuple(code for code in pool.golfers if code != GONE)
        np.testing.assert_array_equal(after.curves_cm, pool.curves_cm[keep])
        np.testing.assert_array_equal(after.features, pool.features[keep])
        assert list(store.golfers()) == [code for code in CODES if code != GONE]
        assert store.ball_speeds() == {c: s for c, s in speeds.items() if GONE not in c}
        assert store.outcomes() == [one for one in outcomes if GONE not in one.source]
        assert store.swing(after.swings[0]).events.top.time_s > 0
        assert [h.reason for h in store.session_holds()] == ["[erased] and Q0004 moved together"]
        assert store.exclusions() == []
        assert GONE not in store.consents.by_golfer()


def test_a_frozen_edition_is_computed_anew_from_its_other_golfers_and_marked(path):
    with open_store(path) as store:
        before = store.edition("spring")
    erased = erase(path)
    with open_store(path) as store:
        after = store.edition("spring")
        assert store.erasures.marks("spring") == list(erased.marks)
    (mark,) = erased.marks
    assert (mark.policy, mark.hash_before) == ("recompute", before.content_hash)
    assert mark.hash_after == after.content_hash != before.content_hash
    assert verify_edition(after)
    cell = after.cell("driver/all")
    assert cell.counts[0] == len(CODES) - 1
    expected = published_bands(bands_of(cell.cohort), cell.cohort)
    np.testing.assert_array_equal(cell.bands.curve_low_cm, expected.curve_low_cm)
    left_out = after.evidence["left_out"]["every cohort"]
    assert left_out == [{"golfer": "Q0004", "reason": "ill"}]


def test_an_edition_is_withdrawn_where_the_academy_says_so(path):
    with open_store(path) as store:
        keep_settings(store, Settings(erased_from_editions="withdraw"))
    (mark,) = erase(path).marks
    assert mark.policy == "withdraw"
    with open_store(path) as store:
        after = store.edition("spring")
    assert verify_edition(after)
    assert all(cell.bands is None for cell in after.cells)
    assert "withdrawn by the academy" in after.cell("driver/all").withheld


def test_placements_of_others_lose_the_peers_curves_and_keep_where_they_stood(path):
    erase(path)
    with open_store(path) as store:
        assert store.placements.of(GONE) == []
        document = store.placements.of("Q0005")[0]["document"]
    assert document["curves"] == {"swing_cm": {"sway": [1.0]}, "peers_cm": []}
    assert document["whole_curve"] == {"peers": 11}
    assert document["features"] == [
        {"name": "lift_low", "percentile": 40.0, "peers_range": {"low": None}}
    ]


def test_rows_go_from_cohorts_of_features_with_their_numbers(path):
    erase(path)
    with open_store(path) as store:
        kept = store.feature_cohort("elsewhere")
    assert kept.golfers == ("Q0001", "Q0002")
    assert kept.swings == ("a", "d")
    np.testing.assert_array_equal(kept.features, [[1.0], [4.0]])
    np.testing.assert_array_equal(kept.golfer_facts["age"], [30.0, 50.0])


def test_the_receipt_is_not_a_copy_and_only_its_key_shows_whose_it_is(path):
    erased = erase(path)
    with open_store(path) as store:
        (receipt,) = store.erasures.receipts()
        assert receipt_of(store, GONE, erased.key) == receipt == erased.receipt
        for golfer, key in (("Q0004", erased.key), (GONE, "0" * 64), (GONE, "no key")):
            with pytest.raises(StoreRefused, match="no receipt of"):
                receipt_of(store, golfer, key)
    assert receipt.removed["swing"] == 2
    assert erased.key.encode() not in path.read_bytes()


def test_the_log_stays_whole_and_says_that_not_who(path):
    with open_store(path) as store:
        assert GONE in read_log(store).golfers.values()
    erase(path)
    with open_store(path) as store:
        log = read_log(store)
    assert log.faults == ()
    assert log.golfers == {}
    assert log.entries[-1].action == "erase"
    assert "exclude" in [entry.action for entry in log.entries]
    assert GONE not in "".join(entry.details for entry in log.entries)


def test_a_killed_erasure_is_finished_by_the_next_opening(path, monkeypatch):
    def killed(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("pipelines.store.care.rewrite_store", killed)
        with pytest.raises(KeyboardInterrupt):
            erase(path)
    path.with_name(path.name + ".rewriting").write_bytes(b"half a file")
    with open_store(path) as store:
        assert len(store.golfers()) == len(CODES) - 1
    assert GONE.encode() not in path.read_bytes()
    assert side_files(path) == []


def test_the_numbering_of_later_rows_goes_on_in_the_new_file(path):
    with open_store(path) as store:
        numbers = [row[0] for row in store._database.script("SELECT number FROM placement")]
    erase(path)
    with open_store(path) as store:
        store._database.rows("add_placement", ("s", "Q0006", "spring", "h", "driver/all", "{}"))
        newest = store._database.script("SELECT max(number) FROM placement")[0][0]
    assert newest > max(numbers)


def test_files_that_name_the_golfer_elsewhere_are_listed(path, tmp_path):
    exports = tmp_path / "exports"
    exports.mkdir()
    (exports / f"{GONE}.html").write_text("a page")
    (exports / "roster.csv").write_text(f"golfer,hand\n{GONE},right\n")
    (exports / "other.csv").write_text(f"golfer,hand\n{GONE}4,right\n")
    erased = erase(path, look_in=[exports])
    assert [file.name for file in erased.named_elsewhere] == [f"{GONE}.html", "roster.csv"]


def test_what_is_unknown_or_unexplained_is_refused_and_nothing_changes(path):
    with pytest.raises(StoreRefused, match=r"nothing in .* is about this code"):
        erase(path, "Q9999")
    with pytest.raises(NormsError, match="who and why"):
        erase_golfer(path, GONE, why=" ", who="data officer")
    with pytest.raises(NormsError, match="may not name the golfer"):
        erase_golfer(path, GONE, why=f"{GONE} asked", who="data officer")
    with open_store(path) as store:
        assert GONE in store.golfers()


def test_erasing_twice_says_that_nothing_is_left(path):
    erase(path)
    with pytest.raises(StoreRefused, match="nothing in"):
        erase(path)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("Q01", True), ("file Q01_2026.c3d", True), ("Q01-b", False), ("Q01-b and Q01.", True),
        ("Q012", False), ("xQ01", False), ("swing7 of Q01-b", True), ("swing7-b", True),
    ],
)  # fmt: skip
def test_a_code_is_found_as_a_word_and_not_inside_anothers(text, named):
    assert Mentions(["Q01", "swing7"], ["Q01-b", "Q02"]).found_in(text) is named


@given(
    code=st.text(st.characters(codec="utf-8", categories=("L", "N", "P")), min_size=1, max_size=8),
    before=st.text(max_size=5),
    after=st.text(max_size=5),
)
def test_the_database_overlooks_nothing_that_names_the_golfer(code, before, after):
    mentions = Mentions([code], [])
    plain = [code, f"{before}{code}{after}", f"{before} {code} {after}"]
    named = [text for text in plain if mentions.found_in(text)]
    for document in ({"x": text} for text in plain):
        if mentions.pruned(document) != document:
            named.append(json.dumps(document))
    for text in named:
        found = duckdb.execute("SELECT regexp_matches(?, ?)", [text, mentions.candidates])
        assert found.fetchall() == [(True,)]


def test_a_code_that_any_count_or_date_could_hold_is_known_by_whole_values_only():
    mentions = Mentions(["2026"], [])
    assert mentions.found_in("2026")
    assert mentions.pruned({"day": "2026-03-04", "n": 2026, "left_out": ["2026", "2025"]}) == {
        "day": "2026-03-04",
        "n": 2026,
        "left_out": ["2025"],
    }
