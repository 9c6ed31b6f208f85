"""What another method for the hip joint centres would have made of the same capture."""

from dataclasses import dataclass, replace

import numpy as np

from norms.errors import SwingRefused
from norms.records import Capture, FloatArray, Swing, SwingLabel
from norms.swing.hip_regressions import REGRESSIONS
from norms.swing.process import process_capture
from norms.vocabulary import CENTRE_ROLE, HIP_ROLES, PELVIS_ROLES


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MethodDifference:
    """One method held against the capture's own.

    Attributes
    ----------
    method : str
        As ``Swing.pelvis_method`` names it.
    curve_cm : ndarray, shape (3, 301)
        This method's curves minus those of the capture's own method.
    features : dict of str to float
        Differences of features that both give, in the catalogue's unit.
    """

    method: str
    curve_cm: FloatArray
    features: dict[str, float]

    @property
    def largest_cm(self) -> FloatArray:
        """Largest difference of each curve, regardless of sign, shape (3,)."""
        return np.asarray(np.abs(self.curve_cm).max(axis=1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HipMethodComparison:
    """All methods that a capture allows.

    Attributes
    ----------
    own : Swing
        By the capture's own method.
    differences : tuple of MethodDifference
    refused : dict of str to str
        Reason by method, for those that lack an input.
    """

    own: Swing
    differences: tuple[MethodDifference, ...]
    refused: dict[str, str]


def compare_hip_methods(capture: Capture, label: SwingLabel) -> HipMethodComparison:
    """Process a capture by every method and report the differences.

    Parameters
    ----------
    capture : Capture
    label : SwingLabel

    Returns
    -------
    HipMethodComparison

    Raises
    ------
    SwingRefused
        If the capture's own method gives no swing, or ``one_method_only`` if the capture has
        nothing to compare it with.

    Notes
    -----
    Two regressions differ by a constant offset in pelvis axes, so that displacements differ by at
    most twice its length times the sine of half the pelvis' turn.
    """
    own = process_capture(capture, label)
    others: list[Swing] = []
    refused: dict[str, str] = {}
    for method, variant in _variants(capture).items():
        if method == own.pelvis_method:
            continue
        try:
            others.append(process_capture(variant, label))
        except SwingRefused as refusal:
            refused[method] = refusal.message
    if not others:
        raise SwingRefused(
            f"the capture gives the pelvis centre by '{own.pelvis_method}' only; comparing needs "
            "the four pelvis markers as well",
            code="one_method_only",
        )
    differences = tuple(_difference(swing, own) for swing in others)
    return HipMethodComparison(own=own, differences=differences, refused=refused)


def _variants(capture: Capture) -> dict[str, Capture]:
    """The capture as each method would take it, by the name under which the method is stored."""
    word = capture.given_centres
    variants: dict[str, Capture] = {}
    if CENTRE_ROLE in capture.roles:
        variants[f"{word} centre"] = capture
    if set(HIP_ROLES) <= set(capture.roles):
        variants[f"{word} hips"] = _without(capture, (CENTRE_ROLE,))
    if set(PELVIS_ROLES) <= set(capture.roles):
        markers = _without(capture, (CENTRE_ROLE, *HIP_ROLES))
        for method in REGRESSIONS:
            variants[method] = replace(markers, hip_regression=method)
    return variants


def _without(capture: Capture, roles: tuple[str, ...]) -> Capture:
    kept = [k for k, role in enumerate(capture.roles) if role not in roles]
    return replace(
        capture,
        points_cm=capture.points_cm[:, kept],
        roles=tuple(capture.roles[k] for k in kept),
    )


def _difference(swing: Swing, own: Swing) -> MethodDifference:
    shared = swing.features.values.keys() & own.features.values.keys()
    return MethodDifference(
        method=swing.pelvis_method,
        curve_cm=swing.curve.values_cm - own.curve.values_cm,
        features={
            name: swing.features.values[name] - own.features.values[name]
            for name in own.features.values
            if name in shared
        },
    )
