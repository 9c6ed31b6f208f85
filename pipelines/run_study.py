"""Runs a study file against a store: rows, answer, and its place in the register of looks."""

import hashlib
import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np

from norms.cohort.roll import call_roll
from norms.errors import StudyRefused
from norms.records.study import StudyFrame
from norms.records.study_answer import Study
from norms.study.answer import answer_study, questions_asked
from norms.study.frame import study_frame
from pipelines.agreed_rows import agreed_rows
from pipelines.cohort_file import cohorts_of
from pipelines.exclude import standing_exclusions
from pipelines.lab_standing import lab_standing
from pipelines.roles import NOT_STATED
from pipelines.settings import levels_of, settings_of
from pipelines.speed_words import keep_speed_words
from pipelines.store import Store
from pipelines.study_file import StudyFile, definitions_of, read_study
from pipelines.study_patterns import edition_patterns, read_patterns
from reports.study_sentences import sheet_sentences


def run_study(store: Store, file: Path, *, who: str = NOT_STATED) -> tuple[Study, StudyFrame]:
    """Answer a study file, and log the look.

    Parameters
    ----------
    store : Store
        Open for writing: the look is logged.
    file : Path

    Returns
    -------
    study : Study
        The same for the same file and store, but for where its look now stands.
    frame : StudyFrame
        The rows it was answered from.

    Raises
    ------
    StudyRefused, CohortRefused, StoreRefused, TableRefused
    """
    stated = read_study(file)
    frame = frame_of(store, stated)
    study = answer_study(stated.plan, frame)
    hashes = (plan_hash(stated), data_hash(frame))
    said: dict[str, object] = {"study": stated.plan.name, "sha256": hashes[1]}
    with store.act("study", who=who, details=said, silent_unchanged=True, can_undo=False):
        look = store.log_look(stated.plan, "study", hashes, questions_asked(study))
        _keep_for_sheets(store, study, frame)
    return replace(study, look=look), frame


def _keep_for_sheets(store: Store, study: Study, frame: StudyFrame) -> None:
    """Keep what holds by feature for placement sheets; only studies of one club speak of it."""
    clubs = set(frame.clubs)
    if study.plan.outcome != "ball_speed" or len(clubs) != 1:
        return
    choices = settings_of(store)
    words = sheet_sentences(study, choices.length_unit, choices.speed_unit)
    keep_speed_words(store, clubs.pop(), words)


def declare_study(store: Store, file: Path, *, who: str = NOT_STATED) -> datetime:
    """Write a study's plan down before it is run; from then on its page says so.

    ``who`` is a role, for the log.

    Returns
    -------
    datetime.datetime
        When it was declared first, UTC.

    Raises
    ------
    StudyRefused
    """
    stated = read_study(file)
    said: dict[str, object] = {"study": stated.plan.name, "sha256": plan_hash(stated)}
    with store.act("declare", who=who, details=said, silent_unchanged=True):
        return store.declare_study(stated.plan, plan_hash(stated), stated.document)


def frame_of(store: Store, stated: StudyFile) -> StudyFrame:
    """The rows of a study: of its golfers, those who agreed to research.

    Raises
    ------
    StudyRefused
        ``no_consent`` where nobody agreed.
    """
    return agreed_rows(store, _whole_frame(store, stated), "research", stated.plan.name)


def _whole_frame(store: Store, stated: StudyFile) -> StudyFrame:
    if stated.cohort.feature_cohort is not None:
        if stated.patterns is not None or stated.edition is not None:
            raise StudyRefused(
                "model.patterns: a cohort of features alone carries its patterns in its table; "
                "map them there as features of unit share",
                code="study_file",
            )
        return store.feature_cohort(stated.cohort.feature_cohort)
    levels = levels_of(store)
    definitions = definitions_of(stated.cohort, levels, cohorts_of(store))
    # Of a study consent to research is asked, in place of that to norms.
    golfers = {code: replace(one, consents_norms=True) for code, one in store.golfers().items()}
    # Sessions out of control, and labs not linked, are left out as they are of norms.
    pool = lab_standing(store, hold=False).norms_pool
    standing = standing_exclusions(store)
    return study_frame(
        call_roll(pool, golfers, levels, standing),
        definitions,
        golfers,
        store.ball_speeds(),
        store.node_times(),
        _patterns(store, stated),
    )


def _patterns(store: Store, stated: StudyFile) -> dict[str, dict[str, float]] | None:
    if stated.edition is not None:
        return edition_patterns(store, stated.edition, stated.cohort)
    return None if stated.patterns is None else read_patterns(stated.patterns)


def plan_hash(stated: StudyFile) -> str:
    """SHA-256 of what a plan states, its table of patterns included."""
    text = json.dumps(stated.departures, sort_keys=True, ensure_ascii=False)
    content = stated.patterns.read_bytes() if stated.patterns else b""
    return hashlib.sha256(text.encode() + content).hexdigest()


def data_hash(frame: StudyFrame) -> str:
    """SHA-256 of the rows of a study."""
    digest = hashlib.sha256()
    words = [frame.swings, frame.golfers, frame.clubs, frame.labs, frame.feature_names]
    digest.update(json.dumps(words).encode())
    facts = [values for _, values in sorted(frame.golfer_facts.items())]
    arrays = [frame.ball_speed_mps, frame.club_speed_mps, frame.features, *facts]
    for values in (*arrays, frame.curves_cm, frame.rates_cm_s):
        if values is not None:
            digest.update(np.ascontiguousarray(values).tobytes())
    return digest.hexdigest()
