"""Which clubs an academy knows, so that a slip in a name does not become a club of its own."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Self

from norms.errors import CaptureRefused
from pipelines.limits import LONGEST_NAME
from pipelines.settings import ClubName, plain_club, settings_of
from pipelines.store import Store


@dataclass(slots=True, kw_only=True, eq=False)
class KnownClubs:
    """Clubs by their plain spelling; a store that never collected takes them as they come.

    Attributes
    ----------
    names : dict of str to str
        Name by plain spelling (`plain_club`).
    taking : bool
        Whether an unknown club becomes known. Only a store's first collecting does so, and only
        where the academy has no list: until then there is nothing to compare with.
    """

    names: dict[str, str] = field(default_factory=dict)
    taking: bool = False

    @classmethod
    def of(cls, store: Store, new: Iterable[str] = ()) -> Self:
        """Of a store: its swings' clubs, its academy's list, and those a person lets in now."""
        listed, stored = settings_of(store).clubs, store.door.clubs()
        # Interrupted, a first run is repeated: until one has ended, clubs go on being taken.
        first = not listed and not (stored and store.door.collected_before())
        names = {plain_club(club): club for club in reversed(stored)}
        names |= _spellings(listed)
        for club in new:
            names.setdefault(plain_club(club), ClubName(name=club).name)
        return cls(names=names, taking=first)

    def name(self, club: str, file: str) -> str:
        """The name of a club as the academy has it, however a file spells it.

        Raises
        ------
        CaptureRefused
            ``club_unknown``, with the nearest that is known and what to do.
        """
        plain = plain_club(club)
        if plain in self.names:
            return self.names[plain]
        if not plain or len(club) > LONGEST_NAME:
            raise CaptureRefused(
                f'{file}: "{club[:LONGEST_NAME]}" names no club: a name of letters and digits, at '
                f"most {LONGEST_NAME}, is needed; rename the file, or state --club",
                code="club_unknown",
            )
        if self.taking:
            self.names[plain] = club
            return club
        raise CaptureRefused(
            f'{file}: no swing is of a club "{club}"{self._meant(plain)}; state --club or rename '
            "the file, or let the club in: by clubs in the academy's settings, or with "
            f'norms collect --new-club "{club}"',
            code="club_unknown",
        )

    def _meant(self, plain: str) -> str:
        alike = get_close_matches(plain, self.names, n=1, cutoff=0.5)
        if alike:
            return f' (did you mean "{self.names[alike[0]]}"?)'
        known = sorted(set(self.names.values()))
        return f" (known: {', '.join(known[:8])}{' …' if len(known) > 8 else ''})"


def _spellings(listed: Iterable[ClubName]) -> dict[str, str]:
    return {plain_club(word): club.name for club in listed for word in (club.name, *club.also)}
