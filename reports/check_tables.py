"""A check of the labs as plain rows for a terminal; the first row is the heading."""

from norms.records import LabCheck
from reports.check_sessions import day_words, filled_words, state_words, told_words
from reports.quantities import DASH

Rows = list[list[str]]


def labs_table(check: LabCheck) -> Rows:
    """Labs by club: golfers, swings, whether they are in norms, and why."""
    rows: Rows = [["lab", "club", "golfers", "swings", "in norms", "because"]]
    return rows + [
        [
            one.lab,
            one.club,
            f"{one.golfers:,}",
            f"{one.swings:,}",
            "yes" if one.admitted else "no",
            one.reason,
        ]
        for one in check.admissions
    ]


def sessions_table(check: LabCheck, *, every: bool) -> Rows:
    """Sessions: all of them, or those with something to say."""
    rows: Rows = [
        ["lab", "day", "swings", "warned", "rejected", "filled", "told", "state", "because"]
    ]
    for one in check.sessions:
        silent = one.state in ("in control", "not judged") and not one.rejected
        if every or not silent:
            rows.append(
                [
                    one.lab,
                    day_words(one),
                    f"{one.swings:,}",
                    f"{one.warned:,}",
                    f"{one.rejected:,}",
                    filled_words(one.filled_share),
                    told_words(one),
                    state_words(one),
                    one.reason or DASH,
                ]
            )
    return rows


def swings_table(check: LabCheck) -> Rows:
    """The swings asked for, with their events and warnings."""
    rows: Rows = [["swing", "golfer", "club", "filled", "events", "warnings"]]
    for one in check.swings:
        events = "; ".join(
            f"{event} {mark.time_s:.3f} s by {mark.method}" for event, mark in one.events.items()
        )
        warnings = "; ".join(n.message for n in one.notices if n.severity == "warning") or DASH
        rows.append(
            [one.swing, one.golfer, one.club, filled_words(one.filled_share), events, warnings]
        )
    return rows
