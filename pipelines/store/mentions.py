"""Where a golfer is named in words and documents: by code, by swing, by file."""

import json
import re
from collections.abc import Iterable
from typing import Any, Final

ERASED: Final = "[erased]"
SHORTEST: Final = 3
"""Characters from which a code is looked for inside longer texts; a shorter one, or one of digits
alone, would be found in every count and date, and is known by whole values only."""


class Mentions:
    """What names one golfer, and no other.

    Parameters
    ----------
    codes : iterable of str
        Codes of the golfer and of the golfer's swings, names of their files, content hashes.
    others : iterable of str
        Codes of the other golfers of the roster: "Q1" does not name "Q1-b".

    Attributes
    ----------
    candidates : str
        Regular expression for the database, found in every text and document that could name the
        golfer, and in some that do not.
    """

    def __init__(self, codes: Iterable[str], others: Iterable[str]) -> None:
        self._whole = {code for code in codes if code}
        sought = {code for code in self._whole if len(code) >= SHORTEST and not code.isdigit()}
        longer = {other for other in others if any(code in other for code in sought)} - self._whole
        # Longest first, so that a longer code of somebody else is passed over as a whole.
        self.candidates = _candidates(sought, self._whole - sought)
        parts = sorted(sought | longer, key=lambda code: (-len(code), code))
        self._theirs = longer
        self._pattern = re.compile(
            f"(?<![0-9A-Za-z])({'|'.join(map(re.escape, parts))})(?![0-9A-Za-z])"
            if parts
            else r"(?!)"
        )

    def found_in(self, text: str) -> bool:
        """Whether a text names the golfer."""
        return text in self._whole or any(
            match[0] not in self._theirs for match in self._pattern.finditer(text)
        )

    def without(self, text: str) -> str:
        """A text in which a placeholder stands for what named the golfer."""
        if text in self._whole:
            return ERASED
        return self._pattern.sub(
            lambda match: match[0] if match[0] in self._theirs else ERASED, text
        )

    def pruned(self, document: Any) -> Any:
        """A JSON value without what is about the golfer.

        Out of a list goes every text that names the golfer and every object that names the golfer
        in one of its own texts; out of an object, every key that does; in any other text a
        placeholder stands.
        """
        if isinstance(document, str):
            return self.without(document)
        if isinstance(document, list):
            return [self.pruned(item) for item in document if not self._about(item)]
        if isinstance(document, dict):
            return {
                key: self.pruned(value) for key, value in document.items() if not self.found_in(key)
            }
        return document

    def _about(self, item: Any) -> bool:
        if isinstance(item, dict):
            return any(isinstance(value, str) and self.found_in(value) for value in item.values())
        return isinstance(item, str) and self.found_in(item)


def _candidates(inside: set[str], whole: set[str]) -> str:
    """Alternatives without those that hold another: a swing's code mostly holds the golfer's."""
    shortest: list[str] = []
    for code in sorted(inside, key=len):
        if not any(known in code for known in shortest):
            shortest.append(code)
    # In a document other letters than those of English stand as JSON writes them.
    forms = {form for code in shortest for form in (code, json.dumps(code)[1:-1])}
    quoted = [_quoted(form) for form in sorted(forms)]
    quoted += [f"^{_quoted(code)}$|{_quoted(json.dumps(code))}" for code in sorted(whole)]
    return "|".join(quoted)


def _quoted(text: str) -> str:
    """A text as a regular expression of the database, which knows fewer escapes than Python."""
    return "".join(c if c.isascii() and c.isalnum() else f"\\x{{{ord(c):x}}}" for c in text)
