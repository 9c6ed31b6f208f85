"""The index page: what was done, step by step, with links to the pages beside it."""

from collections.abc import Sequence
from dataclasses import dataclass

from reports.render import render


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyNumber:
    """A number worth seeing first, already in words, e.g. ``"248"`` and ``"golfers"``."""

    value: str
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A link to a file beside the page.

    Attributes
    ----------
    href : str
        Relative address, e.g. ``"placement.html"``.
    words : str
    """

    href: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step that was done.

    Attributes
    ----------
    title : str
    text : str
        What was done and what came of it, in a few sentences.
    command : str or None
        The command that does the same by hand.
    links : tuple of Link
    """

    title: str
    text: str
    command: str | None = None
    links: tuple[Link, ...] = ()


def index_page(
    title: str, *, summary: str, numbers: Sequence[KeyNumber] = (), steps: Sequence[Step] = ()
) -> str:
    """An overview with links, as a self-contained HTML page.

    Parameters
    ----------
    title : str
    summary : str
        One or two sentences under the title.
    numbers : sequence of KeyNumber
    steps : sequence of Step
        In the order done.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        If a link is not relative.
    """
    for link in (link for step in steps for link in step.links):
        if ":" in link.href or link.href.startswith("/"):
            raise ValueError(f"href: {link.href!r} is not a relative address")
    return render("index.html", title=title, summary=summary, numbers=numbers, steps=steps)
