"""How a capture becomes a swing, and what its error is made of, in words with references."""

from typing import Final

Entries = tuple[tuple[str, str], ...]

CAPTURE: Final[Entries] = (
    (
        "Reading. Files are C3D, BVH or tables. What a file cannot be trusted to say, its unit, "
        "its axes and which label is which point, is declared once by the lab’s profile, and a "
        "file that its own geometry contradicts is refused with that evidence. A file that holds "
        "less than it claims is refused.",
        "",
    ),
    (
        "Spikes and gaps. A point that jumps away and comes back is taken out. Gaps up to the "
        "lab’s stated longest are filled by a cubic fitted to the samples on both sides; longer "
        "ones stay open. The filled share of each phase is kept with the swing.",
        "",
    ),
    (
        "Rebuilding. Where one of the four pelvis markers is missing it is put back from the "
        "other three as on a rigid body, and the swing says so.",
        "",
    ),
    (
        "Filter. A second-order Butterworth, run forward and backward so that nothing is shifted "
        "in time, its cutoff corrected for the second run. The cutoff is stated by the lab or "
        "chosen from the capture’s own residuals, and never above a fixed share of half the "
        "sampling rate.",
        "Winter, Biomechanics and Motor Control of Human Movement; Robertson and Dowling (2003), "
        "Journal of Electromyography and Kinesiology 13.",
    ),
    (
        "Pelvis. Hip joint centres by a regression on the size of the pelvis, in the axes of the "
        "International Society of Biomechanics, or the capture’s own measured or functional "
        "centres. Their midpoint is what sway, thrust and lift are of. The method is kept with "
        "each swing, and one capture can be worked out by every method.",
        "Harrington and others (2007), Journal of Biomechanics 40; Bell and others (1990), "
        "Journal of Biomechanics 23; Davis and others (1991), Human Movement Science 10; Wu and "
        "others (2002), Journal of Biomechanics 35.",
    ),
    (
        "Events. Start and finish from straight lines through the beginning and the end of the "
        "movement, the top where the club, or the hands, turn round, impact from the file, from "
        "the club’s return to the ball, or from the hands. Each has a method and a half-width in "
        "seconds, wider where the capture is noisy. A person’s correction goes first and is kept "
        "with who and why.",
        "",
    ),
    (
        "Phases. Backswing, downswing and follow-through are each stretched onto 101 nodes by a "
        "cubic spline through the filtered motion. Events fall exactly on nodes; real durations "
        "are kept.",
        "",
    ),
    (
        "Averages whose timing within the phases is made alike are worked out only when asked "
        "for, beside the norms and never in them, and say how much of the variance between "
        "golfers that takes away.",
        "Ramsay and Li (1998), Journal of the Royal Statistical Society B 60; Srivastava and "
        "others (2011), IEEE Transactions on Pattern Analysis and Machine Intelligence 33.",
    ),
    (
        "Uncertainty of a feature. Every event is moved within its half-width, the cutoff over a "
        "range, what the filter took off the motion is put back, and noise as large as the "
        "capture’s own is added; each time the feature is read again. The spread of the readings "
        "is its standard uncertainty.",
        "JCGM 101 (2008), propagation of distributions by a Monte Carlo method.",
    ),
)

NOISE: Final[Entries] = (
    (
        "A feature’s spread is taken apart into golfer, day, swing and lab by restricted maximum "
        "likelihood, days nested in golfers; by club, for every feature and every node.",
        "Searle, Casella and McCulloch (1992), Variance Components.",
    ),
    (
        "Intervals rest on golfers left out in turn and assume no law for them: some are steadier "
        "than others, and few unsteady golfers weigh more than many swings. Of about 30 golfers "
        "of very unequal steadiness an interval of 95 % holds the truth in about 90 %.",
        "Jackknife of the logarithm; for skewness Hall (1992), The Bootstrap and Edgeworth "
        "Expansion.",
    ),
    (
        "ICC: the share of the spread between golfers in the spread of single swings, within a "
        "day and between days.",
        "McGraw and Wong (1996), Psychological Methods 1.",
    ),
    (
        "Standard error of measurement (SEM): the spread of a golfer’s single swings about their "
        "own level. Smallest detectable change, 1.96 × √2 × SEM: two single swings that differ "
        "by less cannot be told from noise. It shrinks with the number of swings averaged.",
        "Weir (2005), Journal of Strength and Conditioning Research 19.",
    ),
    (
        "Index of individuality: the spread within a golfer over the spread between golfers, as "
        "a ratio of standard deviations. Above 1, a range of peers says little about one golfer.",
        "Harris (1974), Clinical Chemistry 20.",
    ),
    (
        "Labs. Golfers measured in two labs tell how one is shifted and scaled against the other; "
        "the reference lab’s terms are used, or the labs are kept apart. Sessions out of control "
        "are held back until a person releases them.",
        "",
    ),
    (
        "The budget of an academy’s own store stands on the page of “norms check”; it is kept "
        "with every edition, so that no page calls a difference within noise a change.",
        "",
    ),
)
