"""The life of a standard: in review, approved, retired; who may take which step, and when."""

import unicodedata
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from norms.errors import StandardRefused
from norms.records import Edition
from norms.records.standard import Decision, Standard, StandardFinding, State
from norms.standards.document import standard_hash
from norms.standards.review_plan import refuse_plan
from norms.standards.validate import below_floor

PLACEHOLDER = "TO BE WRITTEN"
"""What a draft says where a person is to write; never put up for review nor approved."""

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
        If anything of it was refused, it has been approved or retired, a text of it is still to
        be written, its review date is not to come, or nobody signs.
    """
    _check_step(standard.name, decisions, "in review")
    _refuse_faults(standard.name, findings)
    _refuse_unwritten(standard)
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
    one_person: str | None = None,
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
    one_person : str, optional
        Why the academy lets one role put up and approve; then it stands with the decision.

    Raises
    ------
    StandardRefused
        If the step is not allowed, a text is still to be written, the plan is beyond reason, the
        edition is another one, the review date has passed, the role is the one that put it up, or
        the evidence is below the floor and no override is given.
    """
    _check_step(standard.name, decisions, "approved")
    _refuse_faults(standard.name, findings)
    _refuse_unwritten(standard)
    _refuse_beyond_reason(standard)
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
    decision = _decision("approved", standard, role, reason, on, signed)
    if same_role(role, decisions[-1].role):
        if not (one_person or "").strip():
            raise StandardRefused(
                f"standard {standard.name}: was put up for review by {decisions[-1].role}, and "
                "another role approves; or the academy says in its settings why one person does "
                "both (one_person)",
                code="same_role",
            )
        own = f"{decision.reason} (approved by the role that put it up: {one_person})"
        decision = replace(decision, reason=own)
    return decision


def same_role(one: str, other: str) -> bool:
    """Whether two roles are one, however they are spaced and in whatever case."""
    return _plain(one) == _plain(other)


def _plain(role: str) -> str:
    # Compatibility forms too: a no-break space or a full-width letter makes no other person.
    return " ".join(unicodedata.normalize("NFKC", role).casefold().split())


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


def _refuse_unwritten(standard: Standard) -> None:
    texts = {
        "rationale": [standard.rationale],
        "title": [standard.title],
        "cautions": standard.cautions,
        "reason": [one.reason or "" for one in standard.requirements],
    }
    for key, written in texts.items():
        if any(_plain(PLACEHOLDER) in _plain(text) for text in written):
            raise StandardRefused(
                f'standard {standard.name}: {key} still says "{PLACEHOLDER}"; write it, and put '
                "the file up for review",
                code="unwritten",
            )
    if not standard.rationale.strip():
        raise StandardRefused(
            f"standard {standard.name}: the rationale is empty; write why the academy asks for "
            "this, and put the file up for review",
            code="unwritten",
        )


def _refuse_beyond_reason(standard: Standard) -> None:
    """A text put up under an earlier version may ask for what is no longer allowed."""
    try:
        refuse_plan(standard.swings, standard.days, standard.window_days)
    except StandardRefused as refusal:
        raise StandardRefused(
            f"standard {standard.name}: {refusal.message}", code=refusal.code
        ) from refusal


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
