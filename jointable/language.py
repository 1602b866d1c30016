"""Answers in other languages: the sentences of an answer are translated, its keys and figures are not.

English is what the library says. French and Spanish come from one gettext catalogue a language,
`locale/LANGUAGE/LC_MESSAGES/jointable.po` and the `.mo` compiled from it. A message with braces stands for a
sentence with any figures in these places; a message with a context, such as `family`, is a word that stands
in a place of that name. What the catalogue does not have stays English.
"""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from jointable.demands import one_of

__all__ = ["LANGUAGES", "said", "said_word", "sentences", "translated"]

#: The languages of answers; the library itself speaks the first.
LANGUAGES = ("en", "fr", "es")

#: Keys whose values are sentences, wherever they stand in an answer.
_SENTENCES = frozenset(
    "assumptions changes met_as near_miss notes problem reason reasons requires split_reason warnings".split()
)
#: Keys whose values are sentences only inside of some others: the same key holds the user's own words elsewhere.
_INSIDE = {
    "note": frozenset(("split",)),
    "text": frozenset(
        "aluminium assumptions cautions electrical findings make_up wet_place what_changes_it".split()
    ),
    "what": frozenset(("findings", "limits")),
    "why": frozenset(("findings",)),
    "do": frozenset(("findings",)),
    "detail": frozenset(("findings",)),
}
#: What is not the library's to say in another language: what was asked, and names of data.
_LEFT = frozenset(("asked", "inputs", "plan", "provenance", "schedule"))

_LOCALE = Path(__file__).parent / "locale"
#: How gettext parts the context of a message from its text.
_CONTEXT = "\x04"
_PLACE = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True, slots=True)
class _Template:
    """A message with places: what it matches, the longest text that is always in it, and its translation."""

    pattern: re.Pattern[str]
    anchor: str
    target: str


@dataclass(frozen=True, slots=True)
class _Catalogue:
    """The messages of a language: whole ones, those with places, and the words of each kind of place."""

    whole: Mapping[str, str]
    templates: tuple[_Template, ...]
    words: Mapping[str, dict[str, str]]


def translated(answer: Any, language: str | None) -> Any:
    """An answer with its sentences in a language.

    Args:
        answer: The answer as `--json` prints it, or a list of answers.
        language: `en`, `fr` or `es`; None leaves the answer as it is.

    Returns:
        The same keys and figures; each answer says its `language`.

    Raises:
        InputError: There is no such language.

    Source: the catalogue of messages; its terms follow the vocabulary of the French edition of the Canadian
        Electrical Code and of NOM-001-SEDE-2012, from memory.

    Example:
        >>> refusal = {"class": "twist-on 10", "reason": "total 13.24 mm² is above the 10.0 mm² this class takes"}
        >>> translated(refusal, "fr")["reason"]
        'le total de 13.24 mm² dépasse les 10.0 mm² que cette classe admet'
        >>> translated(refusal, "es")["class"]
        'twist-on 10'
    """
    chosen = one_of(language, LANGUAGES, "language")
    if chosen is None:
        return answer
    if isinstance(answer, (list, tuple)):
        return [translated(one, chosen) for one in answer]
    told = answer if chosen == LANGUAGES[0] else _walked(answer, "", (), chosen)
    return {**told, "language": chosen}


def said(text: str, language: str | None) -> str:
    """What stands beside an answer, a heading or a sentence, in the language of the answer.

    Args:
        text: The text in English.
        language: The language; None is English.

    Returns:
        The text in that language, or as it is where the catalogue does not have it.

    Source: the catalogue of messages.

    Example:
        >>> said("Assumed:", "es"), said("Assumed:", None)
        ('Supuesto:', 'Assumed:')
    """
    if language in (None, LANGUAGES[0]):
        return text
    chosen = str(language)
    return _catalogue(chosen).words["label"].get(text) or _sentence(text, chosen) or text


def said_word(word: str, kind: str, language: str | None) -> str:
    """A word of a kind in the language of the answer.

    Args:
        word: The word in English.
        kind: The context that the catalogue has it in, such as `family`, `material`, `construction`.
        language: The language; None is English.

    Returns:
        The word in that language, or as it is where the catalogue does not have it.

    Source: the catalogue of messages.

    Example:
        >>> said_word("twist-on", "family", "fr")
        'à torsion'
    """
    if language in (None, LANGUAGES[0]):
        return word
    return _catalogue(str(language)).words.get(kind, {}).get(word, word)


def sentences(answer: Any) -> Iterator[tuple[str, str]]:
    """The sentences of an answer that a catalogue should have.

    Args:
        answer: The answer as `--json` prints it, or a list of answers.

    Yields:
        The key that holds a sentence, and the sentence.

    Source: none; a form of this project.

    Example:
        >>> list(sentences({"class": "twist-on 10", "reasons": ["marked CU"], "cautions": [{"id": "C1", "text": "a"}]}))
        [('reasons', 'marked CU'), ('text', 'a')]
    """
    found: list[tuple[str, str]] = []
    _walked(answer, "", (), None, found)
    yield from found


def _walked(
    value: Any,
    key: str,
    above: tuple[str, ...],
    language: str | None,
    found: list[tuple[str, str]] | None = None,
) -> Any:
    """A value of an answer in a language; without one its sentences are only gathered."""
    if isinstance(value, Mapping):
        return {
            k: v if k in _LEFT and not isinstance(v, str) else _walked(v, k, (*above, key), language, found)
            for k, v in value.items()
        }
    if isinstance(value, (list, tuple)):
        return [_walked(v, key, above, language, found) for v in value]
    if isinstance(value, str) and (key in _SENTENCES or not _INSIDE.get(key, frozenset()).isdisjoint(above)):
        if found is not None:
            found.append((key, value))
        return value if language is None else _sentence(value, language) or value
    return value


@lru_cache(maxsize=4096)
def _sentence(text: str, language: str) -> str | None:
    """A sentence in a language; None where the catalogue has none for it."""
    catalogue = _catalogue(language)
    if text in catalogue.whole:
        return catalogue.whole[text]
    for template in catalogue.templates:
        if template.anchor in text and (match := template.pattern.fullmatch(text)):
            told = _filled(template.target, match.groupdict(), language)
            if told is not None:
                return told
    # Several sentences in one.
    parts = [_sentence(part, language) for part in text.split("; ")] if "; " in text else [None]
    return "; ".join(p for p in parts if p) if all(parts) else None


def _filled(target: str, values: Mapping[str, str], language: str) -> str | None:
    """A translation with what stands in its places; None where a sentence in one has no translation."""
    told = {name: _put(name, value, language) for name, value in values.items()}
    return None if None in told.values() else _PLACE.sub(lambda place: str(told[place[1]]), target)


def _put(name: str, value: str, language: str) -> str | None:
    """What stands in a place of a sentence: a word of its kind, a sentence of its own, or what it is."""
    words = _catalogue(language).words
    if name in words:
        return words[name][value]
    if name == "sentence":
        return _sentence(value, language)
    if name == "wire":
        # A size with its material and construction.
        known = words["construction"] | words["material"]
        return " ".join(known.get(word, word) for word in value.split(" "))
    return value


@cache
def _catalogue(language: str) -> _Catalogue:
    """The messages of a language, read once. Nothing in the environment chooses them."""
    read = gettext.translation("jointable", _LOCALE, languages=[language])
    # The standard library reads the whole file into this mapping, and has no other way to list it.
    messages: dict[str, str] = vars(read)["_catalog"]
    words: dict[str, dict[str, str]] = {}
    for message, told in messages.items():
        kind, parting, word = message.partition(_CONTEXT)
        if parting:
            words.setdefault(kind, {})[word] = told
    whole = {m: t for m, t in messages.items() if m and _CONTEXT not in m}
    # What has most text of its own is tried first: it says most exactly what a sentence is.
    placed = sorted((m for m in whole if _PLACE.search(m)), key=lambda m: (-len(_PLACE.sub("", m)), m))
    templates = tuple(_template(m, whole.pop(m), words) for m in placed)
    return _Catalogue(whole, templates, words)


def _template(message: str, target: str, words: Mapping[str, Mapping[str, str]]) -> _Template:
    texts = _PLACE.split(message)
    parts = []
    for number, text in enumerate(texts):
        if number % 2 == 0:
            parts.append(re.escape(text))
        elif text in words:
            alike = sorted(words[text], key=len, reverse=True)
            parts.append(f"(?P<{text}>{'|'.join(map(re.escape, alike))})")
        else:
            parts.append(f"(?P<{text}>.+?)")
    return _Template(re.compile("".join(parts), re.DOTALL), max(texts[::2], key=len), target)
