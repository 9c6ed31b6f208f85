"""From a template to a page: everything escaped, every name defined, no address, no script."""

import re
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from reports.style import css_variables

_PAGES = Path(__file__).parent / "pages"
_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:in|cm|s|%|in/s|cm/s)\b|%)")
_POSSESSIVE = re.compile(r"(?<=[a-z])'(?=s\b)|(?<=s)'(?= )")


def tied(text: str) -> Markup:
    """Text, escaped, set well: a number stays with its unit and possessives are curled."""
    return escape(_POSSESSIVE.sub("’", _NUMBER_AND_UNIT.sub("\u00a0", text)))


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(_PAGES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["tied"] = tied
    return environment


def picture(svg: str | None) -> Markup | None:
    """Mark a drawn ``<svg>`` element as safe; its words were escaped when it was drawn."""
    return None if svg is None else Markup(svg)


def render(template: str, **names: object) -> str:
    """A whole page as HTML text.

    Parameters
    ----------
    template : str
        File name in ``reports/pages``.
    **names
        What the template uses.
    """
    style = Markup(css_variables() + (_PAGES / "style.css").read_text(encoding="utf-8"))
    return _environment().get_template(template).render(style=style, **names)
