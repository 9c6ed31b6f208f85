"""Parts of the placement sheet: the signed map and the golfers who swing alike, as rows."""

from typing import Final

from norms.records.golfer_place import LookAlikes, ProfileMap
from norms.units import cm_to, mps_to
from norms.vocabulary import AXES, PHASES
from reports import finding_sentences as words
from reports.quantities import DASH, number

MOST_SHARE: Final = 25.0
SOME_SHARE: Final = 100.0 / 9.0


def map_rows(profile: ProfileMap | None, unit: str) -> list[dict[str, object]]:
    """Rows of the map, one for each axis, a cell for each phase."""
    if profile is None:
        return []
    parts = {(part.axis, part.phase): part for part in profile.parts}
    shares = dict(zip(parts, words.whole_shares(profile), strict=True))
    rows: list[dict[str, object]] = []
    for axis in AXES:
        cells = []
        for phase in PHASES:
            part = parts[axis, phase]
            cells.append(
                {
                    "tint": _tint(part.share_pct),
                    "distance": number(cm_to(part.distance_cm, unit), 1),
                    "share": f"{shares[axis, phase]} %",
                    "signed": words.signed_words(part, unit),
                    "shape": number(cm_to(part.shape_cm, unit), 1),
                    "detectable": ""
                    if part.signed_detectable_cm is None
                    else words.length(part.signed_detectable_cm, unit),
                }
            )
        rows.append({"axis": axis, "cells": cells})
    return rows


def _tint(share: float) -> str:
    if share >= MOST_SHARE:
        return "most"
    return "some" if share >= SOME_SHARE else "least"


def map_words(profile: ProfileMap | None, unit: str) -> str:
    """How the map is read, where most of the difference lies, and the overall deviation."""
    if profile is None:
        return "There are too few peers for a map."
    return (
        "Bold: distance from the peers’ mean curve, root mean square over the phase; percent: its "
        "share of the whole; then the mean difference and its direction, and what is left as "
        "another shape; last, from which size a change of the mean difference is more than noise. "
        f"{words.largest_part_sentence(profile, unit)} {words.overall_sentence(profile, unit)}"
    )


def alike_rows(alike: LookAlikes | None, unit: str, speed_unit: str) -> list[dict[str, str]]:
    """Rows of the golfers who swing alike."""
    if alike is None:
        return []
    return [
        {
            "golfer": one.golfer or "not named",
            "level": one.level or DASH,
            "speed": DASH
            if one.ball_speed_mps is None
            else f"{number(mps_to(one.ball_speed_mps, speed_unit), 0)} "
            f"{'mph' if speed_unit == 'mph' else 'm/s'}",
            "change": words.moved_words(one.next_change_cm, unit),
        }
        for one in alike.group
    ]
