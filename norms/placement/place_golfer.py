"""A golfer's swings held against the peers in every way that the placement sheet shows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from norms.cohort.frozen_shapes import FrozenShapes, frozen_shapes
from norms.cohort.levels import ALL_LEVELS, level_for, level_of
from norms.cohort.own_shapes import strangeness_of, typicality_of
from norms.placement.cautions import ONE_SWING
from norms.placement.choose_cell import choose_cell
from norms.placement.findings import find_findings
from norms.placement.golfer_mean import GolferMean, mean_of_swings
from norms.placement.imported_cautions import THEIR_NOISE
from norms.placement.lookalikes import History, find_look_alikes
from norms.placement.peers import peers_of
from norms.placement.place import asked_by, place_among
from norms.placement.profile_map import profile_map
from norms.placement.sure_place import sure_places
from norms.placement.whole_swing import nearest_handicap, place_pattern, place_typicality
from norms.records import (
    Cohort,
    Edition,
    Golfer,
    Level,
    MeasurementError,
    Placement,
    Swing,
)
from norms.records.findings import CoachingNote
from norms.records.golfer_place import GolferPlace, LookAlikes

NO_NOISE: Final = (
    "The edition has no noise budget for this club: how much one swing differs from the next is "
    "not in the intervals."
)
GOLFERS_ELSEWHERE: Final = "the golfers of these norms are not in this store"
ONE_DAY: Final = (
    "All swings are of one day: how much a golfer differs from day to day is in the intervals, "
    "but cannot be averaged out."
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacingGround:
    """Everything that golfers are held against, read once and used for many.

    Attributes
    ----------
    edition : Edition
    shapes : FrozenShapes
    noise : Mapping of str to MeasurementError
        By club.
    notes : tuple of CoachingNote
        The academy's own.
    ball_speed : Mapping of str to str
        By feature, how it goes with ball speed by a study.
    """

    edition: Edition
    shapes: FrozenShapes
    noise: Mapping[str, MeasurementError] = field(default_factory=dict)
    notes: tuple[CoachingNote, ...] = ()
    ball_speed: Mapping[str, str] = field(default_factory=dict)

    def club(self, club: str) -> Cohort | None:
        """A club's golfers of every level."""
        cell = self.edition.cell(f"{club}/{ALL_LEVELS}")
        return None if cell is None else cell.cohort


def placing_ground(
    edition: Edition,
    noise: Mapping[str, MeasurementError] | None = None,
    notes: Sequence[CoachingNote] = (),
    ball_speed: Mapping[str, str] | None = None,
) -> PlacingGround:
    """An edition made ready for placing."""
    return PlacingGround(
        edition=edition,
        shapes=frozen_shapes(edition),
        noise=noise or {},
        notes=tuple(notes),
        ball_speed=ball_speed or {},
    )


def place_golfer(
    swings: Sequence[Swing],
    ground: PlacingGround,
    *,
    golfer: Golfer | None = None,
    handicap: float | None = None,
    level: str | None = None,
    cohort: str | None = None,
    history: History | None = None,
) -> GolferPlace:
    """Place one golfer by one swing or several with one club.

    Parameters
    ----------
    swings : sequence of Swing
    ground : PlacingGround
    golfer : Golfer or None
        Who swung, where the roster knows them.
    handicap, level, cohort : float or None, str or None, str or None
        As in `norms.placement.place.place_swing`.
    history : History or None
        Without it there are no look-alikes.

    Returns
    -------
    GolferPlace

    Raises
    ------
    CohortRefused
        As `place_swing` and `mean_of_swings`.
    """
    mean = mean_of_swings(swings)
    club = mean.swing.label.club
    cell = choose_cell(
        mean.swing, ground.edition, golfer=golfer, handicap=handicap, level=level, cohort=cohort
    )
    peers = peers_of(cell, ground.edition, mean.swing.label.golfer)
    noise = ground.noise.get(club)
    placement = place_among(
        mean.swing,
        ground.edition,
        peers,
        golfer=golfer,
        handicap=handicap,
        asked=asked_by(level, cohort),
        errors=_errors(mean, noise),
    )
    placement = replace(placement, cautions=_cautions(placement, mean, noise))
    sure = sure_places(mean, placement.features, peers, noise)
    shown = placement.withheld is None
    components = ground.shapes.components.get(club)
    patterns = ground.shapes.patterns.get(club)
    typicality = ground.shapes.typicality.get(placement.cohort_key)
    code = mean.swing.label.golfer
    own_level = _level_key(mean, ground.edition, golfer, placement.handicap)
    return GolferPlace(
        placement=placement,
        swings=mean.codes,
        days=mean.days,
        places=sure,
        map=profile_map(mean, peers.mean_cm, components, typicality)
        if shown and peers.mean_cm is not None
        else None,
        typicality=place_typicality(
            mean,
            typicality_of(ground.edition, placement.cohort_key, code),
            peers.mean_cm,
            typicality,
        )
        if shown and typicality is not None and peers.mean_cm is not None
        else None,
        nearest=nearest_handicap(mean, components) if components is not None else None,
        pattern=place_pattern(
            mean, own_level, strangeness_of(ground.edition, club, code), components, patterns
        )
        if components is not None and patterns is not None
        else None,
        look_alikes=_look_alikes(mean, ground, history),
        findings=find_findings(
            placement.features,
            sure,
            peers.cohort,
            len(mean.codes),
            notes=ground.notes,
            ball_speed=ground.ball_speed,
        )
        if shown and peers.cohort is not None
        else (),
    )


def _errors(mean: GolferMean, noise: MeasurementError | None) -> dict[str, float]:
    """Standard errors of the features that the noise budget knows."""
    found = {name: mean.feature_error(noise, name) for name in mean.swing.features.values}
    return {name: error for name, error in found.items() if error is not None}


def _cautions(
    placement: Placement, mean: GolferMean, noise: MeasurementError | None
) -> tuple[str, ...]:
    """Cautions of one swing do not fit several; what is missing of noise is said."""
    several = len(mean.codes) > 1
    kept = [one for one in placement.cautions if not (several and one == ONE_SWING)]
    if noise is None:
        kept.append(NO_NOISE)
    elif placement.imported:
        kept.append(THEIR_NOISE)
    if several and mean.days == 1:
        kept.append(ONE_DAY)
    return tuple(kept)


def _level_key(
    mean: GolferMean, edition: Edition, golfer: Golfer | None, handicap: float | None
) -> str | None:
    """The golfer's own level on the day, whichever level they are held against."""
    levels = _levels(edition, mean.swing.label.club)
    if golfer is not None:
        return level_of(golfer, mean.swing.label.recorded_on, levels).key
    return None if handicap is None else level_for(handicap, levels).key


def _levels(edition: Edition, club: str) -> list[Level]:
    definitions = [cell.cohort.definition for cell in edition.cells]
    return [one.level for one in definitions if one.club == club and one.level and one.name is None]


def _look_alikes(
    mean: GolferMean, ground: PlacingGround, history: History | None
) -> LookAlikes | None:
    club = mean.swing.label.club
    everyone, components = ground.club(club), ground.shapes.components.get(club)
    if history is None or everyone is None or components is None:
        return None
    if ground.edition.imported:
        return LookAlikes(withheld=GOLFERS_ELSEWHERE)
    smallest: Any = ground.edition.parameters["smallest_cell"]
    return find_look_alikes(
        mean,
        everyone,
        components,
        history,
        smallest_cell=int(smallest),
    )
