"""The check page: labs held in control, how every session went, and the noise budget."""

from collections import Counter

from norms.records import LabCheck
from reports.check_numbers import budget_section, chart_section, effect_section, with_labels
from reports.check_sessions import day_words, session_groups, swing_facts
from reports.quantities import MINUS, check_unit, percent_of, plural
from reports.render import render
from reports.sentences import sentence_case


def check_page(check: LabCheck, *, unit: str = "in") -> str:
    """What a check of the labs says, as a self-contained HTML page.

    Parameters
    ----------
    check : LabCheck
    unit : {"in", "cm"}
        The reader's unit of length.

    Returns
    -------
    str
        The same bytes for the same check.

    Raises
    ------
    ValueError
        If ``unit`` is another one.
    """
    check_unit(unit)
    noise = list(check.noise.values())
    return render(
        "check.html",
        title=_title(check),
        facts=_facts(check),
        lead=check_lead(check),
        swings=[swing_facts(one) for one in check.swings],
        swings_title=plural(len(check.swings), "swing"),
        held=_held(check),
        labs=[
            {
                "lab": one.lab,
                "club": one.club,
                "golfers": f"{one.golfers:,}",
                "swings": f"{one.swings:,}",
                "admitted": "yes" if one.admitted else "no",
                "reason": sentence_case(one.reason),
            }
            for one in check.admissions
        ],
        left_out={sentence_case(rule): count for rule, count in check.left_out.items()},
        charts=[chart_section(one, order) for order, one in enumerate(check.controls)],
        effects=[effect_section(one, unit) for one in check.terms],
        budgets=[budget_section(club, error, unit) for club, error in check.noise.items()],
        confidence=percent_of(noise[0].confidence) if noise else "",
        rejected=[
            {
                "file": one.source,
                "lab": one.lab,
                "reason": one.message.removeprefix(f"{one.source}: "),
            }
            for one in check.rejected
        ],
        sessions=session_groups(check.sessions),
    )


def check_lead(check: LabCheck) -> list[str]:
    """The check in a few sentences."""
    swings = sum(one.swings for one in check.sessions)
    labs = len({one.lab for one in check.sessions})
    days = sum(one.recorded_on is not None for one in check.sessions)
    states = Counter(one.state for one in check.sessions)
    rejected = len(check.rejected)
    sentences = [
        f"{plural(labs, 'lab')}, {plural(days, 'session')}, {plural(swings, 'swing')}; "
        + (
            f"{plural(rejected, 'file')} rejected, each with a reason."
            if rejected
            else "no file rejected."
        ),
        f"{plural(states['held back'], 'session')} held back from norms, "
        f"{states['released']:,} released by a person; "
        + (
            f"{states['not judged']:,} cannot be judged, because fewer than three of their "
            "golfers were in the lab on another day."
            if states["not judged"]
            else "every session could be judged."
        ),
    ]
    if check.decided_out:
        sentences.append(
            f"{plural(check.decided_out, 'swing')} left out of norms by a person's decision "
            f"{'is' if check.decided_out == 1 else 'are'} looked at here like any other: a check "
            "of the labs is of every measurement. The noise budget is without them."
        )
    outside = sorted({one.lab for one in check.admissions if not one.admitted})
    if outside:
        sentences.append(f"Not in norms, in whole or in part: {', '.join(outside)}.")
    return sentences


def _title(check: LabCheck) -> str:
    labs = sorted({one.lab for one in check.sessions})
    if len(check.swings) == 1:
        return f"Swing {check.swings[0].swing}"
    return f"Check of {' and '.join(labs)}" if labs else "Check of the labs"


def _facts(check: LabCheck) -> str:
    days = [one.recorded_on for one in check.sessions if one.recorded_on]
    if not days:
        return "No day is known."
    if len(set(days)) == 1:
        return f"Recorded on {days[0].isoformat()}."
    return f"Recorded from {min(days).isoformat()} to {max(days).isoformat()}."


def _held(check: LabCheck) -> list[dict[str, str]]:
    return [
        {
            "session": f"{one.lab}, {day_words(one)}",
            "state": one.state,
            "reason": sentence_case(with_labels(one.reason)).replace(" by -", f" by {MINUS}"),
        }
        for one in check.sessions
        if one.state in ("held back", "released")
    ]
