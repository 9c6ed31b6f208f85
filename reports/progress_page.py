"""Progress of one golfer: two sessions beside each other, and which changes are real."""

from typing import Final

import numpy as np

from norms.records.progress import FeatureChange, Progress
from reports import finding_sentences as words
from reports import sentences
from reports.figures.panels import PanelBand, PanelLine, curve_panels
from reports.phrases import brief, phrase
from reports.placement_page import day_words
from reports.quantities import check_unit, plural
from reports.render import picture, render
from reports.sheet_page import panel_style

METHOD: Final = (
    "A change is real where it passes two bars at once: what swings and days alone would show, and "
    "the range in which the second session was expected, since an unusual session is followed by a "
    "less unusual one with nothing done. Both bars are set so that one change in twenty is called "
    "real in a golfer who has not changed. Changes are taken before numbers are rounded."
)


def progress_page(progress: Progress, *, unit: str = "in") -> str:
    """A golfer's progress, as a self-contained HTML page.

    Parameters
    ----------
    progress : Progress
    unit : {"in", "cm"}
        The reader's unit of length.

    Raises
    ------
    ValueError
        If ``unit`` is another one.
    """
    check_unit(unit)
    first, last = (progress.sessions[place] for place in progress.compared)
    return render(
        "progress.html",
        panel_style=panel_style(),
        title=f"Golfer {progress.golfer}: what changed",
        facts=(
            f"{sentences.sentence_case(progress.club)}, {day_words(first.day)} against "
            f"{day_words(last.day)}; {plural(first.swings, 'swing')} and "
            f"{plural(last.swings, 'swing')}. Peers: {progress.cohort_label}, "
            f"{plural(progress.peers, 'golfer')}, edition “{progress.edition}”."
        ),
        real=[_real(change, unit) for change in progress.changes if change.verdict == "real"],
        counts=counts_sentence(progress),
        figure=picture(_figure(progress, unit)),
        first_words=day_words(first.day),
        last_words=day_words(last.day),
        own=bool(np.isfinite(progress.own_low_cm).all()),
        peers_band=_peers_band(progress),
        timeline=_timeline(progress, unit),
        rows=[_row(change, unit) for change in progress.changes],
        cautions=progress.cautions,
        standing_cautions=sentences.STANDING_CAUTIONS,
        method=METHOD,
    )


def progress_rows(progress: Progress, *, unit: str = "in") -> list[list[str]]:
    """Every feature's two session means and the verdict on its change, for a terminal."""
    rows = [
        [
            "feature",
            *(f"{progress.sessions[at].day}" for at in progress.compared),
            "change",
            "verdict",
        ]
    ]
    for change in progress.changes:
        told = _row(change, unit)
        rows.append([str(told[key]) for key in ("subject", "first", "last", "change", "verdict")])
    return rows


def _real(change: FeatureChange, unit: str) -> str:
    return (
        f"{phrase(change.feature).subject}: "
        f"{sentences.change_amount(change.feature, change.change, unit)}, from "
        f"{sentences.value_words(change.feature, change.first, unit)} to "
        f"{sentences.value_words(change.feature, change.last, unit)}."
    )


def counts_sentence(progress: Progress) -> str:
    """How many features changed for certain, in one sentence."""
    verdicts = [change.verdict for change in progress.changes]
    told = [
        f"{verdicts.count(verdict)} {verdict}"
        for verdict in ("real", "within noise", "not enough swings", "cannot be judged")
        if verdict in verdicts
    ]
    return f"Of {plural(len(verdicts), 'feature')}: {', '.join(told)}."


def _figure(progress: Progress, unit: str) -> str:
    return curve_panels(
        [
            PanelBand(
                low_cm=progress.peers_low_cm,
                high_cm=progress.peers_high_cm,
                look=f"band-{_peers_band(progress) or '90'}",
            ),
            PanelBand(low_cm=progress.own_low_cm, high_cm=progress.own_high_cm, look="own"),
        ],
        [
            PanelLine(curve_cm=progress.first_cm, look="before"),
            PanelLine(curve_cm=progress.last_cm, look="now"),
        ],
        unit=unit,
        name="progress",
        title="Sway, thrust and lift of two sessions",
        description="The earlier session dashed, the later one solid, the golfer's own band "
        "dotted, the peers' band tinted; the values stand in the table below.",
    )


def _peers_band(progress: Progress) -> str:
    """Percent of the peers in the band drawn; empty where there is none."""
    return "" if progress.peers_share is None else f"{100.0 * progress.peers_share:.0f}"


def _timeline(progress: Progress, unit: str) -> list[dict[str, str]]:
    rows = [
        (
            session.day,
            {
                "day": day_words(session.day),
                "what": session.lab,
                "mark": "compared" if place in progress.compared else "",
                "swings": str(session.swings),
                "apart": words.length(apart, unit),
            },
        )
        for place, (session, apart) in enumerate(
            zip(progress.sessions, progress.own_deviation_cm, strict=True)
        )
    ]
    rows += [
        (
            event.day,
            {
                "day": day_words(event.day),
                "what": f"{event.kind}: {event.note}" if event.note else event.kind,
                "mark": "",
                "swings": "",
                "apart": "",
            },
        )
        for event in progress.events
    ]
    return [row for _, row in sorted(rows, key=lambda one: one[0])]


def _row(change: FeatureChange, unit: str) -> dict[str, object]:
    feature = change.feature
    return {
        "subject": phrase(feature).subject,
        "first": brief(sentences.value_words(feature, change.first, unit)),
        "last": brief(sentences.value_words(feature, change.last, unit)),
        "change": brief(sentences.change_amount(feature, change.change, unit)),
        "verdict": brief(words.change_words(change, unit)),
        "real": change.verdict == "real",
    }
