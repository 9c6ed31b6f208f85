from dataclasses import replace

import numpy as np
import pytest

from norms.cohort.annex_contents import (
    club_centiles,
    partition_answers,
    screening_counts,
    sufficiencies,
    weightings,
    whole_curve_bands,
    withheld_findings,
)
from norms.cohort.annexes import AnnexChoices, centile_plan
from norms.cohort.edition import verify_edition
from norms.cohort.simultaneous_bands import build_whole_curve_bands
from norms.records import Annex


def test_twice_from_the_same_swings_gives_the_same_hash(small_academy):
    again = small_academy.build("another name")
    assert again.content_hash == small_academy.edition.content_hash
    assert verify_edition(again)


def test_swings_read_in_another_order_give_the_same_hash(small_academy):
    pool = small_academy.pool
    order = np.random.default_rng(1).permutation(len(pool.swings))
    shuffled = replace(
        pool,
        swings=tuple(pool.swings[i] for i in order),
        golfers=tuple(pool.golfers[i] for i in order),
        clubs=tuple(pool.clubs[i] for i in order),
        curves_cm=pool.curves_cm[order],
        features=pool.features[order],
    )
    again = replace(small_academy, pool=shuffled).build()
    assert again.content_hash == small_academy.edition.content_hash


@pytest.mark.parametrize("kind", ["whole_curve", "screening", "partition", "centiles", "weighting"])
def test_a_changed_annex_breaks_the_hash(small_academy, kind):
    edition = small_academy.edition
    place = next(i for i, annex in enumerate(edition.annexes) if annex.kind == kind)
    changed = [*edition.annexes]
    one = changed[place]
    name = next((name for name, a in one.arrays.items() if np.isfinite(a).any()), None)
    if name is not None:
        values = one.arrays[name].copy()
        where = int(np.flatnonzero(np.isfinite(values))[0])
        values.flat[where] = np.nextafter(values.flat[where], np.inf)
        changed[place] = replace(one, arrays={**one.arrays, name: values})
    else:
        changed[place] = replace(one, document={**one.document, "golfers": 0})
    assert not verify_edition(replace(edition, annexes=tuple(changed)))
    assert not verify_edition(replace(edition, annexes=edition.annexes[:-1]))


def test_every_choice_is_under_the_hash(small_academy):
    edition = small_academy.edition
    other = small_academy.build(choices=AnnexChoices(relabellings=999, seed=1))
    assert other.content_hash != edition.content_hash
    assert other.parameters["annexes"]["seed"] == 1


def test_no_annex_names_a_golfer(small_academy):
    edition = small_academy.edition
    said = " ".join(str(annex.document) for annex in edition.annexes)
    assert not any(code in said for code in small_academy.golfers)
    flagged = {flag["golfer"] for flags in edition.evidence["flags"].values() for flag in flags}
    assert "Q0050" in flagged


def test_whole_curve_bands_are_those_of_each_cell(small_academy):
    edition = small_academy.edition
    found, reasons = whole_curve_bands(edition), withheld_findings(edition, "whole_curve")
    assert found.keys() | reasons.keys() == {c.cohort.definition.key for c in edition.cells}
    cohort = edition.cell("driver/all").cohort
    straight = build_whole_curve_bands(cohort, noise_cm=0.1)
    assert found["driver/all"].joint_factor == straight.joint_factor
    np.testing.assert_array_equal(found["driver/all"].sd_cm, straight.sd_cm)
    assert found["driver/all"].floor_cm == 0.1


def test_screening_counts_the_golfer_who_is_far_out_and_removes_nobody(small_academy):
    counts = screening_counts(small_academy.edition)["driver/all"]
    assert counts.golfers == 96
    assert 1 <= counts.flagged < 96
    assert ("lift_rise", "level") in {(one.subject, one.reason) for one in counts.counts}
    assert len(small_academy.edition.cell("driver/all").cohort.golfers) == 96


def test_partitions_are_answered_with_the_no_as_well(small_academy):
    answers = partition_answers(small_academy.edition)
    asked = set(answers) | set(withheld_findings(small_academy.edition, "partition"))
    assert asked == {
        "driver or iron 7/club",
        *(
            f"{club}/{name}"
            for club in ("driver", "iron 7")
            for name in ("sex", "hand", "juniors", "seniors")
        ),
    }
    assert answers["driver or iron 7/club"].verdict == "own"
    assert answers["driver or iron 7/club"].paired
    assert answers["driver/sex"].verdict != "own"
    assert answers["driver/sex"].questions == 9
    assert answers["driver/sex"].level == pytest.approx(0.05 / 9)
    assert all(h is not None for h in answers["driver/sex"].median_handicaps)


def test_centiles_take_the_golfers_with_a_handicap(small_academy):
    centiles = club_centiles(small_academy.edition)["driver"]
    without = sum(not golfer.handicaps for golfer in small_academy.golfers.values())
    assert centiles.without_handicap == without
    assert centiles.golfers == 96 - without
    assert set(centiles.features) | set(centiles.withheld) == set(small_academy.pool.feature_names)
    assert len(centiles.curves) == 3


def test_every_cell_is_graded(small_academy):
    graded = sufficiencies(small_academy.edition)
    assert [one.cohort_key for one in graded] == [
        cell.cohort.definition.key for cell in small_academy.edition.cells
    ]


def test_every_shown_cell_is_weighed_to_the_membership_or_says_why_not(small_academy):
    edition = small_academy.edition
    found, reasons = weightings(edition), withheld_findings(edition, "weighting")
    assert found.keys() | reasons.keys() == {
        cell.cohort.definition.key for cell in edition.cells if cell.bands is not None
    }
    assert found["driver/all"].design_effect == 1.0  # every member is in it
    assert "does not hold 5 golfers of each of two" in reasons["driver/none"]


def test_an_excluded_golfer_is_in_no_finding(small_academy, out_of_norms):
    edition = small_academy.build(exclusions=(out_of_norms,))
    assert screening_counts(edition)["driver/all"].golfers == 95
    assert "Q0050" not in edition.evidence["handicaps"]["driver"]
    assert whole_curve_bands(edition)["driver/all"].golfers == 95
    assert edition.attrition["left out by a person's decision"] == 4


def test_too_few_golfers_leave_a_reason(small_academy):
    few = {code: small_academy.golfers[code] for code in list(small_academy.golfers)[:40]}
    edition = replace(small_academy, golfers=few).build()
    assert "60 golfers" in withheld_findings(edition, "centiles")["driver"]
    assert not club_centiles(edition)


def test_a_strict_academy_shows_no_smaller_group_in_its_centiles():
    plan = centile_plan(15, AnnexChoices(noise_cm=0.2))
    assert plan.fewest_each_side == 15
    assert plan.fewest_near == 30
    assert plan.spread_floor_cm == 0.2


def test_a_withheld_annex_is_hashed_with_its_reason(small_academy):
    edition = small_academy.edition
    added = Annex(kind="partition", subject="new", withheld="a reason")
    assert not verify_edition(replace(edition, annexes=(*edition.annexes, added)))
