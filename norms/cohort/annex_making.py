"""From a finding, or the refusal to give one, to an annex."""

from collections.abc import Callable

from norms.errors import CohortRefused
from norms.records import Annex
from norms.records.annex import AnnexKind
from norms.records.plain import take_apart


def attempt(make: Callable[[], object]) -> object:
    """What ``make`` gives, or the `CohortRefused` with which it gives nothing."""
    try:
        return make()
    except CohortRefused as refusal:
        return refusal


def annex_of(kind: AnnexKind, subject: str, found: object) -> Annex:
    """An annex of a record, or of a `CohortRefused`, which then is its reason."""
    if isinstance(found, CohortRefused):
        return Annex(kind=kind, subject=subject, withheld=found.message)
    document, arrays = take_apart(found)
    return Annex(kind=kind, subject=subject, document=document, arrays=arrays)
