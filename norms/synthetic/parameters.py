"""What an invented swing is made of: times, amounts of each move, and the body that moves."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SwingParameters:
    """One swing. Amounts are the heights of smooth steps; signs are given with each.

    Moves overlap, so a feature (the farthest back, say) is close to its parameter but is not the
    parameter: `norms.synthetic.true_features` gives the feature.

    Attributes
    ----------
    start_s : float
        Second at which the club leaves the ball; nothing moves before it. At least 0.5.
    backswing_s, downswing_s, follow_through_s : float
        Durations start→top, top→impact, impact→finish.
    still_s : float
        Still stretch recorded after the finish. At least 0.3.
    sway_away_cm, sway_forward_cm, sway_settle_cm : float
        Moves away from the target, toward it, and back from it in the follow-through; all >= 0.
    sway_lead_s : float
        About how long before the top sway turns toward the target.
    sway_carry_s : float
        How long after impact the forward move still lasts.
    thrust_back_cm, thrust_sit_cm, thrust_late_cm : float
        Moves toward the ball in the backswing, from it early in the downswing, and toward it
        through impact; all >= 0.
    thrust_follow_cm : float
        Move toward (+) or from (−) the ball in the follow-through.
    lift_drop_cm, lift_dip_cm, lift_rise_cm, lift_settle_cm : float
        Drop of the backswing, further drop around the top, rise through impact, drop after it;
        all >= 0.
    lift_lag_s : float
        About how long after the top lift is lowest.
    turn_top_deg, turn_impact_deg, turn_finish_deg : float
        About the pelvic turn at each event, + toward the target, 0 at address.
    list_top_deg, list_impact_deg : float
        Sideways list of the pelvis, + lead side up.
    tilt_change_deg : float
        Change of forward tilt by impact, + forward.
    hands_lead_s : float
        How long before the club the hands reverse at the top; >= 0.
    club_speed_mps : float
        Speed of the club head at impact, m/s.

    Raises
    ------
    ValueError
        If a still stretch is too short, a duration is not positive, or an amount negative.
    """

    start_s: float = 0.6
    backswing_s: float = 0.80
    downswing_s: float = 0.27
    follow_through_s: float = 0.75
    still_s: float = 0.35
    sway_away_cm: float = 5.5
    sway_forward_cm: float = 13.0
    sway_settle_cm: float = 1.5
    sway_lead_s: float = 0.08
    sway_carry_s: float = 0.12
    thrust_back_cm: float = 2.5
    thrust_sit_cm: float = 1.8
    thrust_late_cm: float = 3.5
    thrust_follow_cm: float = -1.5
    lift_drop_cm: float = 2.5
    lift_dip_cm: float = 1.5
    lift_rise_cm: float = 6.0
    lift_settle_cm: float = 1.8
    lift_lag_s: float = 0.03
    turn_top_deg: float = -45.0
    turn_impact_deg: float = 40.0
    turn_finish_deg: float = 95.0
    list_top_deg: float = -7.0
    list_impact_deg: float = 10.0
    tilt_change_deg: float = -10.0
    hands_lead_s: float = 0.0
    club_speed_mps: float = 40.0

    def __post_init__(self) -> None:
        if self.start_s < 0.5 or self.still_s < 0.3:
            raise ValueError("start_s must be at least 0.5 s and still_s at least 0.3 s")
        if min(self.backswing_s, self.downswing_s, self.follow_through_s) <= 0:
            raise ValueError("durations of the phases must be positive")
        negative = [name for name in AMOUNTS if getattr(self, name) < 0]
        if negative:
            raise ValueError(f"amounts must not be negative: {negative}")

    @property
    def top_s(self) -> float:
        """Second of the top."""
        return self.start_s + self.backswing_s

    @property
    def impact_s(self) -> float:
        """Second of impact."""
        return self.top_s + self.downswing_s

    @property
    def finish_s(self) -> float:
        """Second of the finish."""
        return self.impact_s + self.follow_through_s

    @property
    def end_s(self) -> float:
        """Second at which the recording ends."""
        return self.finish_s + self.still_s


AMOUNTS = (
    "sway_away_cm",
    "sway_forward_cm",
    "sway_settle_cm",
    "thrust_back_cm",
    "thrust_sit_cm",
    "thrust_late_cm",
    "lift_drop_cm",
    "lift_dip_cm",
    "lift_rise_cm",
    "lift_settle_cm",
    "hands_lead_s",
    "club_speed_mps",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """The golfer's build and the club in hand.

    Attributes
    ----------
    pelvis_width_mm, pelvis_depth_mm : float
        Distance between the ASIS, and between mid-ASIS and mid-PSIS.
    psis_width_mm : float
        Distance between the PSIS.
    pelvis_tilt_deg : float
        Forward tilt at address, + forward.
    hip_height_cm : float
        Height of the hip midpoint at address.
    stance_cm : float
        Distance between the feet along the target line.
    arm_cm, reach_cm : float
        Distance from the swing's hub to the grip, and from the hub to the club head.
    plane_deg : float
        Inclination of the swing plane from the ground.
    """

    pelvis_width_mm: float = 240.0
    pelvis_depth_mm: float = 150.0
    psis_width_mm: float = 90.0
    pelvis_tilt_deg: float = 18.0
    hip_height_cm: float = 88.0
    stance_cm: float = 46.0
    arm_cm: float = 66.0
    reach_cm: float = 175.0
    plane_deg: float = 50.0
