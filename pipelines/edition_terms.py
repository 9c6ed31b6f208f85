"""A swing put in the terms of an edition's reference lab, with what a reader must be told of it."""

from typing import Any

from norms.cohort.annex_contents import lab_terms_in
from norms.cohort.lab_terms import swing_in_reference_terms
from norms.records import Edition, LabTerms, Swing
from norms.swing.catalogue import BY_NAME


def in_edition_terms(edition: Edition, swing: Swing) -> tuple[Swing, tuple[str, ...]]:
    """The swing as the edition's reference lab would have measured it.

    Parameters
    ----------
    edition : Edition
    swing : Swing

    Returns
    -------
    swing : Swing
        Itself where it comes from the reference lab, or from a lab the edition does not know.
    cautions : tuple of str
        What was changed, or that nothing is known of the lab.
    """
    stated: Any = edition.parameters.get("labs")
    if not stated:  # built before labs were kept
        return swing, ()
    club, lab = swing.label.club, swing.label.lab
    of_club = [entry["lab"] for entry in stated if entry["club"] == club]
    if edition.imported:  # of its labs only names are known, and ours may be called the same
        return swing, (_elsewhere(lab, of_club),)
    if of_club and lab not in of_club:
        return swing, (_unknown(lab, of_club),)
    for terms in lab_terms_in(edition):
        if (terms.effect.lab, terms.effect.club) == (lab, club):
            return swing_in_reference_terms(swing, terms), _changes(terms)
    return swing, ()


def _unknown(lab: str, known: list[str]) -> str:
    return (
        f"The lab {lab} has no part in these norms, which rest on {' and '.join(known)}: whether "
        "it measures as they do is not known, so a difference may be the lab's and not the "
        "golfer's."
    )


def _elsewhere(lab: str, known: list[str]) -> str:
    return (
        f"Recorded in {lab}; the norms rest on labs of the other academy "
        f"({', '.join(known) or 'not named'}): whether ours measures as they do is not known, so "
        "a difference may be the lab's and not the golfer's."
    )


def _changes(terms: LabTerms) -> tuple[str, ...]:
    effect = terms.effect
    changed, apart = [], []
    for name, verdict in zip(effect.feature_names, effect.verdicts, strict=True):
        label = BY_NAME[name].label if name in BY_NAME else name
        if verdict == "apart":
            apart.append(label)
        elif verdict != "alike":
            changed.append(label)
    sentences = []
    if changed:
        sentences.append(
            f"Measured in {effect.lab} and put in the terms of {effect.reference}, by "
            f"{effect.golfers} golfers measured in both: {', '.join(changed)}, and the curves of "
            "the same axes."
        )
    if apart:
        sentences.append(
            f"Not placed, because {effect.lab} and {effect.reference} cannot be held against each "
            f"other in it: {', '.join(apart)}."
        )
    return tuple(sentences)
