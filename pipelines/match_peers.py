"""A golfer's swing among peers of like handicap and of like ball speed."""

from collections.abc import Sequence

from norms.cohort.levels import ALL_LEVELS
from norms.cohort.members import members
from norms.cohort.roll import call_roll
from norms.cohort.speed_peers import TwoWayPeers, golfer_covariates, peers_two_ways
from norms.errors import CohortRefused
from norms.records import CohortDefinition, Exclusion
from pipelines.consents import refuse_without_consent
from pipelines.exclude import refuse_excluded_swing
from pipelines.lab_standing import lab_standing
from pipelines.settings import settings_of
from pipelines.store import Store


def match_peers(store: Store, swing: str, *, exclusions: Sequence[Exclusion]) -> TwoWayPeers:
    """Hold a stored swing against peers matched two ways.

    Parameters
    ----------
    store : Store
    swing : str
        Code of a stored swing.
    exclusions : sequence of Exclusion
        Golfers and swings that a person decided to leave out; they are no peers.

    Raises
    ------
    StoreRefused
        If the store has no such swing, a person left it out, or its golfer does not agree to
        coaching.
    CohortRefused
        If no golfer's swings with this club may enter norms.
    """
    held = store.swing(swing)
    refuse_without_consent(store, held.label.golfer, "coaching")
    refuse_excluded_swing(store, swing)
    settings = settings_of(store)
    roster, speeds = store.golfers(), store.ball_speeds()
    pool = lab_standing(store, hold=False).norms_pool
    roll = call_roll(pool, roster, settings.levels, exclusions)
    club = held.label.club
    cohort, _ = members(roll, CohortDefinition(key=f"{club}/{ALL_LEVELS}", club=club))
    if not cohort.golfers:
        raise CohortRefused(f"{club}: no golfer's swings may enter norms", code="empty")
    owner = roster.get(held.label.golfer)
    professional = owner is not None and owner.professional
    handicap = owner.handicap_on(held.label.recorded_on) if owner and not professional else None
    speed = speeds.get(swing)
    return peers_two_ways(
        held.label.golfer,
        held.features.values,
        cohort,
        golfer_covariates(roll, cohort, speeds),
        handicap=handicap,
        speed_mps=speed.ball_speed_mps if speed else None,
        smallest_cell=settings.smallest_cell,
    )
