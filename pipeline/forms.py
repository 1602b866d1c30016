"""What a printed cell may look like: each form has a pattern, and the words that say what is right."""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = ["FORMS", "Form"]


@dataclass(frozen=True, slots=True)
class Form:
    """A form of printed text."""

    pattern: str
    expected: str

    def matches(self, text: str) -> bool:
        """Whether the text has this form."""
        return re.fullmatch(self.pattern, text) is not None


#: A part of an inch in its lowest terms.
_PART = r"\d*[13579]/(?:2|4|8|16|32|64)"
_FRACTION = rf"[1-9]\d*(?:-{_PART})?|{_PART}"

#: Text as printed on one line: no control characters, no space at an end, no non-breaking space.
_TEXT = (
    r"[^\s\x00-\x1f\u00a0\u2007\u202f](?:[^\x00-\x1f\u00a0\u2007\u202f]*[^\s\x00-\x1f\u00a0\u2007\u202f])?"
)

FORMS: dict[str, Form] = {
    "text": Form(_TEXT, "plain text without a space at either end or a non-breaking space"),
    "list": Form(_TEXT, "words parted by a comma and a space"),
    "code": Form(r"[a-z0-9][a-z0-9.+_-]*", "a short name in lower case, such as nec-2023"),
    "integer": Form(r"\d+", "a whole number without separators or unit, such as 168"),
    "decimal": Form(
        r"-?\d+(?:\.\d+)?", "a number with a decimal point, without separators or unit, such as 15.5"
    ),
    "fraction": Form(_FRACTION, "inches as a whole number and a fraction, such as 4-11/16"),
    "size": Form(
        r"[1-4]/0|\d+(?:\.\d+)?(?: (?:AWG|kcmil|mm2))?",
        "a conductor size such as 12, 4/0, 250 kcmil or 2.5 mm2",
    ),
}
