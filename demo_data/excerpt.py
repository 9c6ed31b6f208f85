"""The sample captures in ``demo_data/samples``: a few files of the academy, byte for byte.

`write_samples` invents the first golfers of the default academy and writes one driver and one
iron swing of a right-hander and of a left-hander, from both labs, with those golfers' tables.
To renew the samples after a change of the academy::

    python -c "from pathlib import Path; from demo_data.excerpt import write_samples;
    write_samples(Path('demo_data/samples'))"
"""

from pathlib import Path

from demo_data.academy import (
    DEFAULT_GOLFERS,
    DEFAULT_SEED,
    academy_jobs,
    noise_seeds,
    write_profiles,
)
from demo_data.captures import write_swing
from demo_data.golfers import CLUBS
from demo_data.labs import LAB_KEYS
from demo_data.tables import write_handicaps, write_roster
from norms.records import Golfer

WANTED = tuple(
    zip(("right", "left", "left", "right"), LAB_KEYS * 2, CLUBS + CLUBS[::-1], strict=True)
)
"""Hand, lab and club of each sample."""


def write_samples(folder: Path) -> None:
    """Write the sample captures, their golfers' roster and handicaps, and both profiles."""
    folder.mkdir(parents=True, exist_ok=True)
    wanted = list(WANTED)
    roster: list[Golfer] = []
    for job in academy_jobs(DEFAULT_SEED, DEFAULT_GOLFERS, folder):
        if not wanted:
            break
        golfer = job.invent()
        hand = golfer.person.golfer.hand
        for swing, noise in noise_seeds(golfer, job.seed):
            kind = (hand, swing.lab, swing.club)
            if kind in wanted:
                wanted.remove(kind)
                write_swing(folder / f"{swing.code}.c3d", swing, hand, noise)
                if golfer.person.golfer not in roster:
                    roster.append(golfer.person.golfer)
    write_roster(folder / "roster.csv", roster)
    write_handicaps(folder / "handicaps.csv", roster)
    write_profiles(folder)
