"""The study file: what is asked, of whom and how, in TOML that a person reads and edits.

::

    name = "forward-travel"            # small letters, digits, _ and -
    question = "Does more forward travel go with more ball speed?"
    outcome = "ball_speed"             # or club_speed
    primary = ["sway_travel"]          # named before the data are looked at

    [cohort]
    clubs = ["driver"]                 # and sex, age_from, age_to, levels, handicap_above,
    levels = ["to_5", "to_12"]         # handicap_to, labs, recorded_from, recorded_to
    # named = ["women_driver"]         # or cohorts that the store keeps by name
    # feature_cohort = "open-2026"     # or a cohort of features alone

    [model]
    features = ["sway_travel"]         # left out: every feature
    covariates = ["sex", "age", "height"]
    random_slope = "auto"              # or "never"
    along = ["curves", "rates"]        # followed along the swing; [] for neither
    predict = true
    patterns = "patterns.csv"          # swing or golfer, pattern, and where known membership
    # edition = "2026-autumn"          # or the patterns that an edition found
    confounders = ["wind"]             # what you know was not measured
    relabellings = 1999
    folds = 10
    seed = 1
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from pydantic import Field

from norms.cohort.definitions import check_definition, describe
from norms.errors import CohortRefused, NormsError, StudyRefused
from norms.records import CohortDefinition, Level
from norms.records.study import Along, Covariate, Outcome, StudyPlan
from pipelines.limits import LARGEST_SEED
from pipelines.toml_file import NAME, Section, SwingRules, checked, read_toml


class CohortSection(SwingRules):
    """Who is studied: clubs and rules, cohorts kept by name, or a cohort of features alone."""

    clubs: list[str] = Field(default_factory=list)
    named: list[str] = Field(default_factory=list)
    feature_cohort: str | None = None


class _ModelSection(Section):
    features: list[str] = Field(default_factory=list)
    covariates: list[Covariate] = Field(default=["sex", "age", "height"])
    random_slope: Literal["auto", "never"] = "auto"
    along: list[Along] = Field(default=["curves", "rates"])
    predict: bool = True
    patterns: str | None = None
    edition: str | None = None
    confounders: list[str] = Field(default_factory=list)
    level: float = Field(default=0.05, gt=0.0, lt=0.5)
    relabellings: int = Field(default=1_999, ge=199, le=99_999)
    folds: int = Field(default=10, ge=2, le=50)
    seed: int = Field(default=1, ge=0, le=LARGEST_SEED)


class _StudySection(Section):
    name: str = Field(pattern=NAME)
    question: str = Field(min_length=1)
    outcome: Outcome = "ball_speed"
    primary: list[str] = Field(default_factory=list)
    cohort: CohortSection
    model: _ModelSection = _ModelSection()


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyFile:
    """A study file, read.

    Attributes
    ----------
    plan : StudyPlan
        Its cohort in words.
    cohort : CohortSection
    patterns : Path or None
        Table of pattern membership, beside the study file.
    edition : str or None
        Edition whose patterns are features of the study.
    document : dict
        Everything stated, defaults filled in, as plain values: what a declaration keeps.
    departures : dict
        What is stated otherwise than by default: what makes a plan the same plan, also once the
        program knows more options.
    """

    plan: StudyPlan
    cohort: CohortSection
    patterns: Path | None
    edition: str | None
    document: dict[str, Any]
    departures: dict[str, Any]


def read_study(file: Path) -> StudyFile:
    """Read a study file.

    Raises
    ------
    StudyRefused
        Naming the file and the key at fault.
    """
    _, stated = read_toml(file, _refused)
    section = checked(_StudySection, stated, f"{file}: ", _refused)
    _check_cohort(file, section.cohort)
    if section.model.patterns is not None and section.model.edition is not None:
        raise _refused(f"{file}: model: state patterns or edition, not both")
    model = section.model
    plan = StudyPlan(
        name=section.name,
        question=section.question,
        cohort=cohort_words(section.cohort),
        outcome=section.outcome,
        features=tuple(model.features),
        primary=tuple(section.primary),
        covariates=tuple(model.covariates),
        random_slope=model.random_slope,
        along=tuple(model.along),
        predict=model.predict,
        confounders=tuple(model.confounders),
        level=model.level,
        relabellings=model.relabellings,
        folds=model.folds,
        seed=model.seed,
    )
    return StudyFile(
        plan=plan,
        cohort=section.cohort,
        patterns=None if model.patterns is None else file.parent / model.patterns,
        edition=model.edition,
        document=section.model_dump(mode="json"),
        departures=section.model_dump(mode="json", exclude_defaults=True),
    )


def _check_cohort(file: Path, cohort: CohortSection) -> None:
    ways = [bool(cohort.clubs), bool(cohort.named), cohort.feature_cohort is not None]
    if sum(ways) != 1:
        raise _refused(
            f"{file}: cohort: state exactly one of clubs, named and feature_cohort; "
            f"{sum(ways)} are stated"
        )
    rules = cohort.model_dump(exclude={"clubs", "named", "feature_cohort"})
    stated = [key for key, value in rules.items() if value not in (None, [])]
    if stated and not cohort.clubs:
        raise _refused(
            f"{file}: cohort.{stated[0]}: a cohort kept by name has its own rules; leave it out"
        )


def definitions_of(
    cohort: CohortSection, levels: Sequence[Level], named: Sequence[CohortDefinition]
) -> tuple[CohortDefinition, ...]:
    """Cohort definitions of a study, one for each club.

    Parameters
    ----------
    cohort : CohortSection
    levels : sequence of Level
        The academy's table.
    named : sequence of CohortDefinition
        Cohorts that the store keeps by name.

    Raises
    ------
    StudyRefused
        For a level or a name that there is not, or rules that contradict one another.
    """
    if cohort.named:
        known = {definition.name: definition for definition in named}
        unknown = [name for name in cohort.named if name not in known]
        if unknown:
            raise _refused(
                f"cohort.named: no cohort is called {unknown[0]!r}; the store keeps: "
                f"{', '.join(str(name) for name in known) or 'none'}"
            )
        return tuple(known[name] for name in cohort.named)
    table = {level.key: level for level in levels}
    unknown = [key for key in cohort.levels if key not in table]
    if unknown:
        raise _refused(f"cohort.levels: {unknown[0]!r} is none of {', '.join(table)}")
    rules = cohort.model_dump(exclude={"clubs", "named", "feature_cohort", "levels", "labs"})
    definitions = tuple(
        CohortDefinition(
            key=f"study-{place}",
            name=f"study-{place}",
            club=club,
            levels=tuple(table[key] for key in cohort.levels),
            labs=tuple(cohort.labs),
            **rules,
        )
        for place, club in enumerate(cohort.clubs)
    )
    try:
        for definition in definitions:
            check_definition(definition)
    except CohortRefused as error:
        raise _refused(error.message) from error
    return definitions


def cohort_words(cohort: CohortSection) -> str:
    """Who is studied, in words that a register can group by."""
    if cohort.feature_cohort is not None:
        return f"feature cohort {cohort.feature_cohort}"
    if cohort.named:
        return "cohort " + " and ".join(sorted(cohort.named))
    rules = cohort.model_dump(exclude={"clubs", "named", "feature_cohort", "levels", "labs"})
    phrases = describe(CohortDefinition(key="words", club="", labs=tuple(cohort.labs), **rules))
    said = [one for one in phrases if not one.startswith("club") and one != "consent to norms"]
    levels = [f"level {' or '.join(cohort.levels)}"] if cohort.levels else []
    return ", ".join([" and ".join(sorted(cohort.clubs)), *levels, *said])


def _refused(message: str) -> NormsError:
    return StudyRefused(message, code="study_file")
