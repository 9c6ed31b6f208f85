"""Hold one swing against its peers: which golfers, and where each feature falls among them.

A swing is placed among golfers' means of an edition's cell, the placed golfer always left out; in
another academy's edition, which came without its golfers, among its published percentiles.
"""

from collections.abc import Mapping
from typing import Any

from norms.cohort.golfer_facts import unmet_rules
from norms.cohort.levels import levels_in
from norms.errors import CohortRefused
from norms.placement.by_handicap import place_features_by_handicap
from norms.placement.cautions import Asked, caution_sentences
from norms.placement.choose_cell import choose_cell
from norms.placement.feature_places import feature_places
from norms.placement.imported_cautions import imported_sentences
from norms.placement.peers import Peers, peers_of
from norms.placement.whole_curve import place_whole_curve
from norms.records import Edition, Golfer, Placement, Swing


def place_swing(
    swing: Swing,
    edition: Edition,
    *,
    golfer: Golfer | None = None,
    handicap: float | None = None,
    level: str | None = None,
    cohort: str | None = None,
) -> Placement:
    """Place one swing among the golfers of one cell of an edition.

    The cell is that of the cohort asked for, else that of the swing's club and, in this order: the
    level asked for, the declared handicap's level, the golfer's level on the day of the swing, all
    levels. A cell that is withheld stays withheld: no other group takes its place unless it is
    asked for.

    Parameters
    ----------
    swing : Swing
    edition : Edition
        Its own table of levels decides.
    golfer : Golfer or None
        Who swung, where the roster knows them.
    handicap : float or None
        Handicap index declared for the day, plus handicaps negative; goes before the roster's.
    level : str or None
        Key of a level of the edition, or ``"all"``.
    cohort : str or None
        Key of a cohort of the edition, instead of a level.

    Returns
    -------
    Placement

    Raises
    ------
    CohortRefused
        As `norms.placement.choose_cell.choose_cell`, or if the golfer is not the one who made the
        swing.
    """
    cell = choose_cell(swing, edition, golfer=golfer, handicap=handicap, level=level, cohort=cohort)
    return place_among(
        swing,
        edition,
        peers_of(cell, edition, swing.label.golfer),
        golfer=golfer,
        handicap=handicap,
        asked=asked_by(level, cohort),
    )


def asked_by(level: str | None, cohort: str | None) -> Asked | None:
    """What the peers are chosen by, where they are asked for."""
    return "cohort" if cohort else "level" if level else None


def place_among(
    swing: Swing,
    edition: Edition,
    peers: Peers,
    *,
    golfer: Golfer | None = None,
    handicap: float | None = None,
    asked: Asked | None = None,
    errors: Mapping[str, float] | None = None,
) -> Placement:
    """Place one swing among peers that are already chosen.

    Parameters
    ----------
    swing : Swing
    edition : Edition
    peers : Peers
        Of the edition, without the swing's golfer.
    golfer, handicap : Golfer or None, float or None
        As in `place_swing`.
    asked : {"level", "cohort"} or None
        What the peers were chosen by, where they were asked for.
    errors : Mapping of str to float, optional
        Standard error of each feature as a measure of the golfer, for places by handicap.

    Raises
    ------
    CohortRefused
        If the golfer is not the one who made the swing.
    """
    if golfer is not None and golfer.code != swing.label.golfer:
        raise CohortRefused(
            f"swing {swing.label.swing} is by golfer {swing.label.golfer}, not {golfer.code}; "
            "name the golfer who made it",
            code="other_golfer",
        )
    on_roster = golfer.handicap_on(swing.label.recorded_on) if golfer else None
    believed = on_roster if handicap is None else handicap
    stated: dict[str, Any] = dict(edition.parameters)
    return Placement(
        swing=swing,
        edition=edition.name,
        edition_hash=edition.content_hash,
        imported=edition.imported,
        cohort_key=peers.definition.key,
        cohort_label=peers.definition.label,
        handicap=believed,
        peers=peers.golfers,
        left_out=peers.left_out,
        bands=peers.bands,
        withheld=peers.withheld,
        features=feature_places(swing, peers),
        cautions=(
            *imported_sentences(edition, peers),
            *caution_sentences(
                swing,
                golfer=golfer,
                declared=handicap,
                on_roster=on_roster,
                definition=peers.definition,
                asked=asked,
                unmet=_unmet(swing, edition, peers, golfer, handicap) if asked == "cohort" else (),
                peers=peers.golfers,
                percents=stated["percents"],
                confidence=stated["confidence"],
            ),
        ),
        whole_curve=None
        if peers.whole_curve is None
        else place_whole_curve(
            swing.curve,
            peers.whole_curve,
            level=stated["annexes"]["whole_curve_level"],
            peers=peers.golfers,
        ),
        by_handicap=place_features_by_handicap(swing, edition, believed, golfer, errors),
    )


def _unmet(
    swing: Swing, edition: Edition, peers: Peers, golfer: Golfer | None, handicap: float | None
) -> tuple[str, ...]:
    day, levels = swing.label.recorded_on, levels_in(edition)
    return unmet_rules(peers.definition, day, levels, golfer=golfer, handicap=handicap)
