"""A standard held against its evidence: is it inside it, is there enough of it, can it be told?"""

from collections.abc import Iterator
from typing import Final

import numpy as np

from norms.cohort.sufficiency import established_from
from norms.records import Edition
from norms.records.standard import (
    QuantityErrors,
    Requirement,
    Standard,
    StandardFinding,
)
from norms.standards.evidence import Rules, edition_rules
from norms.standards.quantities import (
    planned_error,
    quantity_label,
    quantity_unit,
    smallest_change,
)
from norms.standards.review_plan import MOST_SWINGS
from norms.standards.verdicts import met_factor

HIGH_INDIVIDUALITY: Final = 1.4
"""A golfer's own swings then vary more than golfers do (Harris 1974; the mark from memory)."""
_UNIT_WORDS: Final = {"cm": " cm", "cm_s": " cm/s", "s": " s", "pct": " %", "ratio": ""}


def check_standard(
    standard: Standard, edition: Edition, errors: QuantityErrors | None
) -> tuple[StandardFinding, ...]:
    """Everything that is to be refused or warned of, requirement by requirement.

    Parameters
    ----------
    standard : Standard
    edition : Edition
        The one it rests on.
    errors : QuantityErrors or None
        Of its quantities; None where the edition has no noise budget of the club.

    Returns
    -------
    tuple of StandardFinding
    """
    rules = edition_rules(edition)
    findings = list(_about_whole(standard, edition, rules))
    for place, requirement in enumerate(standard.requirements):
        for severity, code, message, key in _about_evidence(requirement):
            findings.append(_finding(severity, code, message, place, key, requirement))
        for severity, code, message in _about_error(standard, place, errors):
            findings.append(_finding(severity, code, message, place, None, requirement))
    return tuple(findings)


def below_floor(standard: Standard, edition: Edition) -> str | None:
    """Why an approval needs a signed override, in one sentence, or None.

    The floor is the edition's own: a cell is established from so many golfers, and so is each
    quantity of it.
    """
    rules = edition_rules(edition)
    enough = established_from(rules.percents, rules.confidence, rules.smallest_cell)
    short = [
        f"{quantity_label(one.quantity)} rests on {one.norm.golfers}"
        for one in standard.requirements
        if one.norm.golfers < enough
    ]
    if not short:
        return None
    return f"{'; '.join(short)} golfers, where an established norm has {enough}"


def swings_needed(standard: Standard, errors: QuantityErrors, place: int) -> int | None:
    """Fewest swings, on the planned days, with which a golfer could be called met; None if none."""
    low, high = standard.requirements[place].ends
    for swings in range(standard.days, MOST_SWINGS + 1):
        error = float(planned_error(errors, swings, standard.days)[place])
        if high - low > 2.0 * met_factor(standard.wrong_rate) * error:
            return swings
    return None


def _about_whole(standard: Standard, edition: Edition, rules: Rules) -> Iterator[StandardFinding]:
    short = below_floor(standard, edition)
    if short is not None:
        yield StandardFinding(
            severity="warning",
            code="below_floor",
            message=f"{short}; an approval needs a signed override with its reason",
            key="evidence",
        )
    cell = edition.cell(standard.evidence)
    if cell is not None and not _same_golfers(standard, edition):
        yield StandardFinding(
            severity="warning",
            code="other_golfers",
            message=f"the limits rest on {cell.cohort.definition.label}, which is not the group "
            "the standard is for; say in the rationale why they hold there",
            key="golfers",
        )


def _same_golfers(standard: Standard, edition: Edition) -> bool:
    cell = edition.cell(standard.evidence)
    if cell is None:
        return False
    evidence, whom = cell.cohort.definition, standard.golfers
    levels = {one.key for one in evidence.levels or ((evidence.level,) if evidence.level else ())}
    return levels == {one.key for one in whom.levels} and all(
        getattr(evidence, name) == getattr(whom, name)
        for name in ("club", "handicap_above", "handicap_to", "sex", "age_from", "age_to")
    )


def _about_evidence(requirement: Requirement) -> Iterator[tuple[str, str, str, str | None]]:
    norm = requirement.norm
    if norm.percents is None or norm.low is None or norm.high is None:
        if requirement.set_by == "numbers":
            yield (
                "warning",
                "no_norm_range",
                f"{norm.golfers} golfers support no range to hold these numbers against",
                None,
            )
        return
    share = f"the middle {norm.percents[1] - norm.percents[0]:.0f} % of {norm.golfers} golfers"
    span = f"{share} is {_number(norm.low, requirement)} to {_number(norm.high, requirement)}"
    low, high = requirement.ends
    if high < norm.low or low > norm.high:
        yield (
            "refused",
            "outside_evidence",
            f"the range {range_text(requirement)} lies outside the evidence: {span}; nothing is "
            "known of golfers who move so",
            "low" if low > norm.high else "high",
        )
        return
    for key, limit, beyond in (
        ("low", requirement.low, low < norm.low),
        ("high", requirement.high, high > norm.high),
    ):
        if requirement.set_by == "numbers" and limit is not None and beyond:
            yield (
                "warning",
                "beyond_evidence",
                f"the limit {_number(limit, requirement)} lies beyond what the evidence "
                f"supports: {span}",
                key,
            )


def _about_error(
    standard: Standard, place: int, errors: QuantityErrors | None
) -> Iterator[tuple[str, str, str]]:
    requirement = standard.requirements[place]
    error = np.nan
    if errors is not None:
        error = float(planned_error(errors, standard.swings, standard.days)[place])
    if errors is None or np.isnan(error):
        yield (
            "refused",
            "error_unknown",
            "its measurement error is not known, because no golfer of the edition swung this club "
            "often enough; no verdict could ever be given",
        )
        return
    low, high = requirement.ends
    width = high - low
    change = float(smallest_change(errors, np.array(error)))
    plan = f"{standard.swings} swings on {_days(standard.days)}"
    figures = (
        f"the range is {_number(width, requirement)} wide; with {plan} the standard error is "
        f"{_number(error, requirement)} and the smallest detectable change "
        f"{_number(change, requirement)}"
    )
    if not width > 2.0 * met_factor(standard.wrong_rate) * error:
        needed = swings_needed(standard, errors, place)
        mend = (
            f"{needed} swings would do"
            if needed is not None
            else f"not even {MOST_SWINGS} swings would do; widen the range or plan more days"
        )
        yield "refused", "not_measurable", f"nobody could be called met: {figures}; {mend}"
    elif width <= change:
        yield "warning", "change_hidden", f"hard to tell: {figures}"
    individuality = float(errors.individuality[place])
    if individuality > HIGH_INDIVIDUALITY:
        yield (
            "warning",
            "individuality",
            f"a golfer's own swings vary more than golfers do: index of individuality "
            f"{individuality:.1f}, above {HIGH_INDIVIDUALITY:g}",
        )
    if np.isnan(errors.day_sd[place]):
        yield (
            "warning",
            "day_unknown",
            "how far a golfer moves from day to day is not known, because no golfer of the "
            "edition was measured on two days; verdicts hold for the days measured",
        )


def range_text(requirement: Requirement) -> str:
    """The range in the unit inside, e.g. ``"7.1 to 12.9 cm"`` or ``"at least 7.1 cm"``."""
    low, high = requirement.low, requirement.high
    unit = _UNIT_WORDS[quantity_unit(requirement.quantity)]
    if low is not None and high is not None:
        return f"{low:.3g} to {high:.3g}{unit}"
    return f"at least {low:.3g}{unit}" if low is not None else f"at most {high:.3g}{unit}"


def _number(value: float, requirement: Requirement) -> str:
    return f"{value:.3g}{_UNIT_WORDS[quantity_unit(requirement.quantity)]}"


def _days(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"


def _finding(
    severity: str, code: str, message: str, place: int, key: str | None, requirement: Requirement
) -> StandardFinding:
    return StandardFinding(
        severity="refused" if severity == "refused" else "warning",
        code=code,
        message=f"{quantity_label(requirement.quantity)}: {message}",
        requirement=place,
        key=key if requirement.set_by == "numbers" else None,
    )
