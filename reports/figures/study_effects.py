"""Every feature's two effects side by side: within a golfer, and between golfers."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from norms.records.study_answer import Effect, FeatureModel
from norms.units import MPS_PER_UNIT
from reports.figures.svg import drawing, inline_svg, new_figure
from reports.quantities import number
from reports.study_words import PART_WORDS, SPEED_WORDS, SpeedUnit
from reports.style import GOLFER, INK, MEDIAN, MUTED, PAPER, RULE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WIDTH, _HEAD, _FOOT, _ROW = 560.0, 34.0, 34.0, 17.0
_LEFT, _BETWEEN, _RIGHT = 178.0, 26.0, 10.0
_LOOK = {"within": (GOLFER, "o"), "between": (MEDIAN, "s")}


def effects_figure(
    models: Sequence[FeatureModel], *, speed_unit: SpeedUnit, level: float, name: str = "effects"
) -> str:
    """Effects for one standard deviation of each part, with intervals of 95 %.

    Filled marks hold after adjustment for all questions, hollow ones do not. Within and between
    have panels of their own, on scales of their own: they are never added up.

    Parameters
    ----------
    models : sequence of FeatureModel
    speed_unit : {"mph", "mps"}
    level : float
        Adjusted p value up to which an effect holds.
    name : str
        Identifier, unique on the page.

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    height = _HEAD + _ROW * len(models) + _FOOT
    wide = (_WIDTH - _LEFT - _BETWEEN - _RIGHT) / 2
    with drawing(name):
        figure = new_figure(_WIDTH, height)
        for column, part in enumerate(("within", "between")):
            panel = figure.add_axes(
                (
                    (_LEFT + column * (wide + _BETWEEN)) / _WIDTH,
                    _FOOT / height,
                    wide / _WIDTH,
                    _ROW * len(models) / height,
                )
            )
            effects = [model.within if part == "within" else model.between for model in models]
            _draw(panel, effects, speed_unit, level)
            panel.set_title(PART_WORDS[part], fontsize=11.5, weight="bold", loc="left")
            panel.set_xlabel(f"{SPEED_WORDS[speed_unit]} per SD {part}", fontsize=9.5)
            labels = [_label(model) for model in models] if column == 0 else []
            panel.set_yticks(range(len(models)) if labels else [], labels, fontsize=9.5)
            for text, model in zip(panel.get_yticklabels(), models, strict=False):
                text.set_color(INK)
                text.set_fontweight("bold" if model.declared else "normal")
        return inline_svg(
            figure,
            name=name,
            title="Effects within a golfer and between golfers, by feature",
            description=_description(models, speed_unit),
        )


def _label(model: FeatureModel) -> str:
    words = model.label
    return words if len(words) <= 30 else f"{words[:29]}…"


def _draw(panel: "Axes", effects: Sequence[Effect], unit: SpeedUnit, level: float) -> None:
    panel.axvline(0.0, color=RULE, linewidth=1.2, zorder=0.5)
    for row, effect in enumerate(effects):
        if effect.slope is None or effect.low is None or effect.high is None:
            panel.text(0.0, row, "cannot be told", va="center", fontsize=8.5, color=MUTED)
            continue
        scale = effect.spread / MPS_PER_UNIT[unit]
        colour, marker = _LOOK[effect.part]
        holds = effect.adjusted_p is not None and effect.adjusted_p <= level
        panel.plot([effect.low * scale, effect.high * scale], [row, row], color=colour, lw=1.4)
        (mark,) = panel.plot(effect.slope * scale, row, marker=marker)
        mark.set(color=colour, markersize=5.5, markerfacecolor=colour if holds else PAPER)
    panel.set_ylim(len(effects) - 0.4, -0.6)
    panel.spines["left"].set_visible(False)
    panel.tick_params(length=0, labelsize=9.5)
    panel.locator_params(axis="x", nbins=5)
    panel.xaxis.set_major_formatter(lambda value, _: number(value, 1))


def _description(models: Sequence[FeatureModel], unit: SpeedUnit) -> str:
    said = []
    for model in models:
        parts = [
            f"{effect.part} {number(effect.slope * effect.spread / MPS_PER_UNIT[unit], 2)}"
            for effect in (model.within, model.between)
            if effect.slope is not None
        ]
        said.append(f"{model.label} {' and '.join(parts)}")
    return f"In {SPEED_WORDS[unit]} for one standard deviation: {'; '.join(said)}."
