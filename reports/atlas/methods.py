"""How the numbers of an edition are made, in words, with where each method comes from."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from norms.records import Edition
from reports.quantities import number, percent_of
from reports.sentences import sentence_case

_ALWAYS: Final[tuple[tuple[str, str], ...]] = (
    (
        "One golfer, one vote. Each golfer of a group counts once, with the mean of their swings, "
        "however many there are; no interval is taken over swings.",
        "",
    ),
    (
        "A percentile lies between two ranked golfers. Its interval lies between two others, by "
        "the binomial distribution of how many golfers are below it; it assumes nothing of the "
        "shape of the distribution. Where no such interval exists the percentile is not shown.",
        "Hyndman and Fan (1996), The American Statistician 50, type 6; order-statistic intervals "
        "as in CLSI guideline EP28-A3c.",
    ),
    (
        "The interval of a placed golfer’s percentile is that of a share.",
        "Wilson (1927), Journal of the American Statistical Association 22.",
    ),
    (
        "Elsewhere, without these golfers, a place is read between the published percentiles and "
        "its limits off theirs, a quarter of the way to the next percentile wider, because "
        "nothing is known of the distribution in between; beyond the outermost percentile only "
        "the side is said.",
        "Fritsch and Carlson (1980), SIAM Journal on Numerical Analysis 17 (monotone cubics).",
    ),
    (
        "Positions are of the midpoint of the hip joint centres, by a regression on the pelvis "
        "markers unless a swing says otherwise; curves are low-pass filtered forward and "
        "backward.",
        "Harrington and others (2007), Journal of Biomechanics 40; Winter, Biomechanics and Motor "
        "Control of Human Movement.",
    ),
)
_WITH_ANNEXES: Final[tuple[tuple[str, str], ...]] = (
    (
        "Whole-curve bands: every golfer is held against all others in turn; the band’s width is "
        "the rank among these largest deviations that holds the stated share. No shape and no "
        "smoothness is assumed, and nothing periodic.",
        "Diquigiovanni, Fontana and Vantini (2022), Journal of Multivariate Analysis 189; Barber "
        "and others (2021), Annals of Statistics 49.",
    ),
    (
        "Centiles by handicap: location, scale and, where a criterion asks for it, skewness and "
        "tails are smooth functions of handicap, of a distribution on the whole real line "
        "(sinh-arcsinh) or, for positive features, of LMS. The form with the smallest Bayesian "
        "information criterion is taken; sex and age enter where they earn it. Centiles of one "
        "fit cannot cross.",
        "Jones and Pewsey (2009), Biometrika 96; Cole and Green (1992), Statistics in Medicine "
        "11; Rigby and Stasinopoulos (2005), Applied Statistics 54; Chen and Chen (2008), "
        "Biometrika 95.",
    ),
    (
        "Worm plots show each quarter of handicap’s scores against the normal ones; the tests are "
        "of mean, spread, skewness and tails along handicap.",
        "Van Buuren and Fredriks (2001), Statistics in Medicine 20; Royston and Wright (2000), "
        "Statistics in Medicine 19.",
    ),
    (
        "A second opinion on the centiles: quantile regression on a spline of handicap, "
        "rearranged to rise, which assumes no distribution; its distance from the centiles is "
        "set against what sampling golfers alone makes of it.",
        "Koenker and Bassett (1978), Econometrica 46; Chernozhukov, Fernández-Val and Galichon "
        "(2010), Econometrica 78.",
    ),
    (
        "Partitions: golfers are relabelled, and the largest difference over its own error, of "
        "all nodes of all axes and of every feature’s mean and spread, is what chance has to "
        "reach, so that one level holds for the whole answer, also where groups are unequal in "
        "number, spread, noise or swings. Spreads are compared beyond the noise that each "
        "golfer’s own swings leave. Beyond chance is not enough: each feature is also held to the "
        "common limits for difference of means and spreads, or to the share of a group outside "
        "the joint limits.",
        "Harris and Boyd (1990), Clinical Chemistry 36; Lahti and others (2002, 2004), Clinical "
        "Chemistry 48 and 50; Janssen (1997), Statistics and Probability Letters 36; Chung and "
        "Romano (2013), Annals of Statistics 41; Nichols and Holmes (2002), Human Brain Mapping "
        "15.",
    ),
    (
        "Weights to the membership: one weight per golfer, by turns for level, sex and age until "
        "every share agrees; kinds of few golfers are taken together with their neighbour. What "
        "they cost is the design effect. A weighted percentile’s interval has the ranks of as "
        "many golfers of equal weight as would know the share below it as well; it is told in "
        "steps of about a tenth of the interval’s width, so that it is no golfer’s own.",
        "Deming and Stephan (1940), Annals of Mathematical Statistics 11; Kish (1965), Survey "
        "Sampling; Woodruff (1952), Journal of the American Statistical Association 47; Korn and "
        "Graubard (1998), Survey Methodology 24.",
    ),
    (
        "Who stands out: curves by functional boxplot and by level and shape against robust "
        "fences; features by fences after a symmetrising transform and by the gap to the next "
        "golfer. They are listed for a person; nothing is removed.",
        "Sun and Genton (2011), Journal of Computational and Graphical Statistics 20; Dai and "
        "Genton (2019), Computational Statistics & Data Analysis 131; Tukey (1977), Exploratory "
        "Data Analysis; Reed and others (1971), Clinical Chemistry 17.",
    ),
)


def methods(edition: Edition) -> list[dict[str, str]]:
    """Methods of what the edition holds, each with its reference."""
    return _listed(_ALWAYS + (_WITH_ANNEXES if edition.annexes else ()))


def every_method() -> list[dict[str, str]]:
    """Methods of everything an edition may hold, each with its reference."""
    return _listed(_ALWAYS + _WITH_ANNEXES)


def _listed(entries: Sequence[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"words": words, "reference": reference} for words, reference in entries]


def parameter_rows(parameters: Mapping[str, object]) -> list[tuple[str, str]]:
    """Everything that decides a number, name and value in words."""
    rows = []
    for name, value in parameters.items():
        if name == "annexes" and isinstance(value, Mapping):
            rows += _annex_rows(value)
        else:
            rows.append((sentence_case(name.replace("_", " ")), _words(value)))
    return rows


def _annex_rows(choices: Mapping[str, Any]) -> list[tuple[str, str]]:
    return [
        ("Noise of the labs", f"{number(choices['noise_cm'], 3)} cm, {choices['noise_source']}"),
        ("Whole-curve bands hold", percent_of(choices["whole_curve_level"])),
        ("Level of all partition questions together", percent_of(choices["partition_level"])),
        ("Relabellings of a permutation test", f"{choices['relabellings']:,}"),
        ("Seed", str(choices["seed"])),
    ]


def _words(value: object) -> str:
    if isinstance(value, Mapping):
        if "label" in value:
            return str(value["label"])
        return ", ".join(f"{name.replace('_', ' ')} {_words(one)}" for name, one in value.items())
    if isinstance(value, (list, tuple)):
        separator = "; " if any(isinstance(item, Mapping) for item in value) else ", "
        return separator.join(_words(item) for item in value)
    return f"{value:g}" if isinstance(value, float) else str(value)
