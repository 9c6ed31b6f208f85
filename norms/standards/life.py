"""The life of a standard: in review, approved, retired; who may take which step, and when."""

from collections.abc import Sequence
from datetime import date

from norms.errors import StandardRefused
from norms.records import Edition
from norms.records.standard import Decision, Standard, StandardFinding, State
from norms.standards.document import standard_hash
from norms.standards.validate import below_floor

ALLOWED: dict[State | None, tuple[State, ...]] = {
    None: ("in review",),
    "in review": ("in review", "approved", "retired"),
    "approved": ("retired",),
    "retired": (),
}
"""From each state; a file that was never submitted is a draft and has none."""


def state_of(decisions: Sequence[Decision]) -> State | None:
    """What a standard is now; None before it was submitted."""
    return decisions[-1].state if decisions else None


def submit(
    standard: Standard,
    findings: Sequence[StandardFinding],
    decisions: Sequence[Decision],
    *,
    role: str,
    reason: str,
    on: date,
) -> Decision:
    """Put a standard up for review; one already in review may be replaced by a newer text.

    Raises
    ------
    StandardRefused
        If anything of it was refused, it has been approved or retired, its review date is not to
        come, or nobody signs.
    """
    _check_step(standard.name, decisions, "in review")
    _refuse_faults(standard.name, findings)
    _refuse_past_review(standard, on)
    return _decision("in review", standard, role, reason, on)


def approve(
    standard: Standard,
    edition: Edition,
    findings: Sequence[StandardFinding],
    decisions: Sequence[Decision],
    *,
    role: str,
    reason: str,
    on: date,
    override: str | None = None,
) -> Decision:
    """Make a standard the academy's own; from then on it never changes.

    Parameters
    ----------
    standard : Standard
        As it is in review.
    edition : Edition
        The one it rests on.
    findings : sequence of StandardFinding
    decisions : sequence of Decision
        What was decided before.
    role, reason : str
    on : datetime.date
    override : str, optional
        Signed reason for approving below the sufficiency floor.

    Raises
    ------
    StandardRefused
        If the step is not allowed, the edition is another one, the review date has passed, or the
        evidence is below the floor and no override is given.
    """
    _check_step(standard.name, decisions, "approved")
    _refuse_faults(standard.name, findings)
    if edition.content_hash != standard.edition_hash:
        raise StandardRefused(
            f"standard {standard.name}: rests on edition {standard.edition} with fingerprint "
            f"{standard.edition_hash[:12]}, the one here has {edition.content_hash[:12]}",
            code="other_edition",
        )
    _refuse_past_review(standard, on)
    short = below_floor(standard, edition)
    if short is not None and not (override or "").strip():
        raise StandardRefused(
            f"standard {standard.name}: {short}; approve it with a signed override and its "
            "reason, or wait for more golfers",
            code="below_floor",
        )
    signed = (override or "").strip() if short is not None else None
    return _decision("approved", standard, role, reason, on, signed)


def retire(
    standard: Standard, decisions: Sequence[Decision], *, role: str, reason: str, on: date
) -> Decision:
    """Take a standard out of use; it stays readable.

    Raises
    ------
    StandardRefused
        If it is retired already, or nobody signs.
    """
    _check_step(standard.name, decisions, "retired")
    return _decision("retired", standard, role, reason, on)


def _check_step(name: str, decisions: Sequence[Decision], wanted: State) -> None:
    now = state_of(decisions)
    if wanted not in ALLOWED[now]:
        state = now or "a draft that was never put up for review"
        what = {
            "in review": "give the new text a new name",
            "approved": "put it up for review first" if now is None else "nothing is to be done",
            "retired": "nothing is to be done",
        }[wanted]
        raise StandardRefused(f"standard {name}: is {state}; {what}", code="state")


def _refuse_faults(name: str, findings: Sequence[StandardFinding]) -> None:
    for one in findings:
        if one.severity == "refused":
            raise StandardRefused(f"standard {name}: {one.message}", code=one.code)


def _refuse_past_review(standard: Standard, on: date) -> None:
    if standard.review_on <= on:
        raise StandardRefused(
            f"standard {standard.name}: is to be reviewed on {standard.review_on}, which is not "
            f"after {on}; set a later date (review_on)",
            code="review_date",
        )


def _decision(
    state: State, standard: Standard, role: str, reason: str, on: date, override: str | None = None
) -> Decision:
    for word, given in (("role", role), ("reason", reason)):
        if not given.strip():
            raise StandardRefused(
                f"standard {standard.name}: a decision needs a {word}; state it", code="unsigned"
            )
    return Decision(
        state=state,
        role=role.strip(),
        reason=reason.strip(),
        decided_on=on,
        standard_hash=standard_hash(standard),
        edition_hash=standard.edition_hash,
        override=override,
    )
