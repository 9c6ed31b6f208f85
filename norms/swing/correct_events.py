"""A person's correction of events: it goes before what the file states and before what is found."""

from collections.abc import Sequence
from dataclasses import replace

from norms.errors import SwingRefused
from norms.records import EventCorrection, SwingEvents


def corrected_times(corrections: Sequence[EventCorrection]) -> dict[str, float]:
    """Seconds by event; where an event was corrected more than once, the last word counts.

    Raises
    ------
    SwingRefused
        ``correction_unsigned`` if a correction lacks the person or the reason, ``address`` among
        the events is refused as ``event_not_correctable``: it follows from the start.
    """
    for correction in corrections:
        if not correction.person.strip() or not correction.reason.strip():
            raise SwingRefused(
                f"the correction of {correction.event} lacks who made it or why; state both",
                code="correction_unsigned",
            )
        if correction.event == "address":
            raise SwingRefused(
                "address is the last sample before the start; correct the start instead",
                code="event_not_correctable",
            )
    return {correction.event: correction.time_s for correction in corrections}


def with_corrections(events: SwingEvents, corrections: Sequence[EventCorrection]) -> SwingEvents:
    """The events with each corrected mark signed by who corrected it."""
    for correction in corrections:
        mark = replace(
            events.mark(correction.event),
            method=f"corrected by {correction.person}",
            stand_in=False,
            confidence="high",
        )
        events = replace(events, **{correction.event: mark})
    return events
