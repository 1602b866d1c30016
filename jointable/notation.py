"""A joint as people write it: `3x12 + 1x14 stranded`, and back."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from jointable.bundle import MOST_CONDUCTORS
from jointable.errors import InputError
from jointable.geometry import area_mm2, awg_size, default_construction

__all__ = ["CONSTRUCTIONS", "INSULATIONS", "MATERIALS", "Joint", "Term", "parse_size"]

CONSTRUCTIONS = ("solid", "stranded", "flexible")
MATERIALS = ("copper", "aluminium", "copper-clad")

#: Type letters that a term may carry; the published table `insulation` has them with their ratings.
INSULATIONS = (
    "bare", "FEP", "FEPB", "FFH-2", "HF", "HFF", "KF-1", "KF-2", "KFF-1", "KFF-2", "MI", "MTW", "PAF", "PAFF",
    "PF", "PFA", "PFAH", "PFF", "PGF", "PGFF", "PTF", "PTFF", "RFH-1", "RFH-2", "RFHH-2", "RFHH-3", "RHH", "RHH*",
    "RHW", "RHW*", "RHW-2", "RHW-2*", "SA", "SF-1", "SF-2", "SFF-1", "SFF-2", "SIS", "TBS", "TF", "TFE", "TFF",
    "TFFN", "TFN", "THHN", "THHW", "THW", "THW-2", "THWN", "THWN-2", "TW", "UF", "USE", "USE-2", "XF", "XFF", "XHH",
    "XHHN", "XHHW", "XHHW-2", "XHWN", "XHWN-2", "Z", "ZF", "ZFF", "ZHF", "ZW", "ZW-2",
)  # fmt: skip

#: Other spellings of the words of a term.
_ALIKE = {
    "aluminum": "aluminium", "al": "aluminium", "cu": "copper", "cca": "copper-clad",
    "fine-stranded": "flexible", "strand": "stranded",
}  # fmt: skip

_INSULATION = {name.lower(): name for name in INSULATIONS}

_FORM = "a term such as 3x12, 1x14 stranded or 4x2.5mm2 flexible, terms joined by +"

#: So many characters of a joint are read.
_LONGEST = 2000

_SIZE = re.compile(
    r"#?\s*(?P<number>[0-9]+/0|[0-9]+(?:\.[0-9]+)?)\s*(?P<unit>awg|kcmil|mcm|mm2|mm²|mm\^2)?(?![0-9a-z./²^-])",
    re.IGNORECASE,
)
_COUNT = re.compile(r"(?P<count>[-+]?[0-9]*[.,/]?[0-9]+)\s*[x×X*]\s*(?P<rest>.+)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Term:
    """So many conductors alike.

    Args:
        count: How many.
        size: Size as printed back, such as `12 AWG`.
        construction: `solid`, `stranded` or `flexible`.
        material: `copper`, `aluminium` or `copper-clad`.
        insulation: Type letters, or None.
        end: 1 or 2 where the ends of a butt joint are told apart.

    Source: none; the form is this project's.

    Example:
        >>> str(Term(1, "14 AWG", "stranded"))
        '1x14 AWG stranded'
    """

    count: int
    size: str
    construction: str
    material: str = "copper"
    insulation: str | None = None
    end: int | None = None

    def __str__(self) -> str:
        words = [f"{self.count}x{self.size}"]
        if self.construction != default_construction(self.size):
            words.append(self.construction)
        if self.material != "copper":
            words.append(self.material)
        if self.insulation:
            words.append(self.insulation)
        return " ".join(words)


@dataclass(frozen=True, slots=True)
class Joint:
    """The conductors made up together in one splicing connector.

    Args:
        conductors: Terms, widest first, conductors alike in one term; of a butt joint whose ends
            are told apart, those of the first end first.
        assumed: What was not said and is taken as usual, in words.

    Source: none; the form is this project's.

    Example:
        >>> str(Joint.parse("1x14 stranded + 3 x #12"))
        '3x12 AWG + 1x14 AWG stranded'
    """

    conductors: tuple[Term, ...]
    assumed: tuple[str, ...] = ()

    @classmethod
    def parse(cls, text: str) -> Joint:
        """Read a joint.

        Args:
            text: Terms `COUNTxSIZE [solid|stranded|flexible] [copper|aluminium|copper-clad]
                [insulation type]` joined by `+`; `|` parts the two ends of a butt joint.

        Returns:
            The joint, of 1 to 24 conductors.

        Raises:
            InputError: It is no joint, or has more than 24 conductors.

        Source: none; the form is this project's.

        Example:
            >>> Joint.parse("4x2.5mm² flexible").conductors[0]
            Term(count=4, size='2.5 mm2', construction='flexible', material='copper', insulation=None, end=None)
        """
        if not isinstance(text, str) or not text.strip():
            raise InputError("no conductors", column="joint", value=text, expected=_FORM)
        _not_too_long(text, "joint")
        ends = text.split("|")
        if len(ends) > 2:
            raise InputError(
                "a butt joint has two ends", column="joint", value=text, expected="one |, such as 2x14 | 1x12"
            )
        terms: list[Term] = []
        assumed: list[str] = []
        for number, end in enumerate(ends, 1):
            for part in end.split("+"):
                term, unsaid = _term(part, text)
                terms.append(replace(term, end=number) if len(ends) == 2 else term)
                assumed += unsaid
        return cls.of(terms, assumed)

    @classmethod
    def of(cls, terms: Iterable[Term], assumed: Iterable[str] = ()) -> Joint:
        """A joint of given terms, in the usual order.

        Args:
            terms: The terms; those alike are put together.
            assumed: What was taken as usual, in words.

        Returns:
            The joint.

        Raises:
            InputError: It has more than 24 conductors, or none.

        Source: none; the form is this project's.

        Example:
            >>> str(Joint.of([Term(1, "12 AWG", "solid"), Term(2, "12 AWG", "solid")]))
            '3x12 AWG'
        """
        counts: dict[Term, int] = {}
        for term in terms:
            kind = replace(term, count=0)
            counts[kind] = counts.get(kind, 0) + term.count
        total = sum(counts.values())
        if not 1 <= total <= MOST_CONDUCTORS:
            raise InputError(
                f"{total} conductors", column="joint", expected=f"from 1 to {MOST_CONDUCTORS} in one joint"
            )
        merged = (replace(kind, count=n) for kind, n in counts.items())
        return cls(tuple(sorted(merged, key=_order)), tuple(dict.fromkeys(assumed)))

    @property
    def count(self) -> int:
        """How many conductors."""
        return sum(term.count for term in self.conductors)

    @property
    def has_ends(self) -> bool:
        """Whether the two ends of a butt joint are told apart."""
        return self.conductors[0].end is not None

    def __str__(self) -> str:
        ends = [" + ".join(str(t) for t in self.conductors if t.end == end) for end in (None, 1, 2)]
        return " | ".join(end for end in ends if end)


def _order(term: Term) -> tuple[int, Decimal, str, int, int, str]:
    return (
        term.end or 0,
        -area_mm2(term.size),
        term.size,
        CONSTRUCTIONS.index(term.construction),
        MATERIALS.index(term.material),
        term.insulation or "",
    )


def parse_size(text: str) -> str:
    """Read a conductor size.

    Args:
        text: `12`, `12 AWG`, `12AWG`, `#12`, `4/0`, `250 kcmil`, `2.5 mm2` or `2.5mm²`.

    Returns:
        The size as printed back, such as `12 AWG`.

    Raises:
        InputError: It is no size.

    Source: none; the form is this project's.

    Example:
        >>> [parse_size(t) for t in ("#12", "4/0", "250kcmil", "2.50 mm²")]
        ['12 AWG', '4/0 AWG', '250 kcmil', '2.5 mm2']
    """
    _not_too_long(text, "size")
    found = _SIZE.fullmatch(text.strip())
    if found is None:
        raise InputError(
            "no such size",
            column="size",
            value=text.strip(),
            expected="a size such as 12, 4/0, 250 kcmil or 2.5 mm2",
        )
    return _size(found, "size", text.strip())


def _not_too_long(text: str, column: str) -> None:
    """Longer text is no joint that anybody makes, and a number of thousands of digits cannot be read."""
    if len(text) > _LONGEST:
        raise InputError(
            f"{len(text):,} characters",
            column=column,
            value=text[:40] + "…",
            expected=f"at most {_LONGEST:,}",
        )


def _size(found: re.Match[str], column: str, value: str) -> str:
    number, unit = found["number"], (found["unit"] or "").lower()
    if unit in ("", "awg"):
        return _awg(number, column, value)
    if "/" in number or not (amount := Decimal(number)):
        raise InputError(
            "no such size", column=column, value=value, expected="a size such as 250 kcmil or 2.5 mm2"
        )
    plain = format(amount.normalize(), "f")
    return f"{plain} kcmil" if unit in ("kcmil", "mcm") else f"{plain} mm2"


def _awg(number: str, column: str, value: str) -> str:
    if number.endswith("/0"):
        steps = int(number[:-2])
        if 1 <= steps <= 4:
            return awg_size(1 - steps)
        raise InputError(
            "no such AWG size", column=column, value=value, expected="1/0 to 4/0, or kcmil above"
        )
    if "." in number:
        raise InputError(
            "AWG sizes are whole numbers",
            column=column,
            value=value,
            expected=f"did you mean {number} mm2?",
        )
    if 1 <= int(number) <= 40:
        return awg_size(int(number))
    meant = (
        "1/0"
        if int(number) == 0
        else f"{int(number)} kcmil"
        if int(number) >= 250
        else "a size from 40 to 4/0"
    )
    raise InputError(
        "no such AWG size",
        column=column,
        value=value,
        expected=f"did you mean {meant}?" if meant[0] != "a" else meant,
    )


def _term(part: str, whole: str) -> tuple[Term, list[str]]:
    """One term, and what of it was not said."""
    text = part.strip()
    if not text:
        raise InputError("a term is empty", column="joint", value=whole, expected=_FORM)
    found = _COUNT.fullmatch(text)
    if found is None:
        raise InputError(_no_count(text), column="joint", value=text, expected=_FORM)
    count = _count(found["count"], text)
    size_found = _SIZE.match(found["rest"].strip())
    if size_found is None:
        raise InputError(
            "no conductor size",
            column="joint",
            value=text,
            expected="a size such as 12, 4/0, 250 kcmil or 2.5 mm2",
        )
    size = _size(size_found, "joint", text)
    words = _words(found["rest"].strip()[size_found.end() :], text)
    made = words.get("construction") or default_construction(size)
    unsaid = [] if "construction" in words else [f"{size} is {made}, the usual construction"]
    unsaid += [] if "material" in words else [f"{size} is copper"]
    return Term(count, size, made, words.get("material", "copper"), words.get("insulation")), unsaid


def _no_count(text: str) -> str:
    if _SIZE.match(text):
        return "how many of them is not said"
    return "this is no term of a joint"


def _count(text: str, term: str) -> int:
    if not text.isdigit():
        raise InputError(
            "the count is not a whole number above 0",
            column="joint",
            value=term,
            expected="a count such as 3x12",
        )
    if not int(text):
        raise InputError(
            "the count is 0",
            column="joint",
            value=term,
            expected="a count such as 3x12, or leave the term out",
        )
    return int(text)


def _words(text: str, term: str) -> dict[str, str]:
    """The words behind a size by what they say."""
    found: dict[str, str] = {}
    joined = re.sub(r"(?i)copper[- ]clad(\s+alumini?um)?", "copper-clad", text.strip())
    for said in joined.split():
        given = said.lower()
        if "," in given:
            raise InputError(
                "a comma", column="joint", value=term, expected="terms joined by +, decimals with a point"
            )
        word = _ALIKE.get(given, given)
        if word in CONSTRUCTIONS:
            kind = "construction"
        elif word in MATERIALS:
            kind = "material"
        elif word in _INSULATION:
            kind, word = "insulation", _INSULATION[word]
        else:
            raise InputError(f"unknown word {said!r}", column="joint", value=term, expected=_meant(given))
        if found.get(kind, word) != word:
            raise InputError(
                f"two words for the {kind}", column="joint", value=term, expected="one for each term"
            )
        found[kind] = word
    return found


def _meant(word: str) -> str:
    if word in ("and", "&", "with", ";", "/") or re.match(r"\W*\d+\s*[x×*]", word):
        return "terms joined by +, such as 3x12 + 1x14"
    if word in ("mm", "sqmm", "mm2", "mm²"):
        return "square millimetres right after the number, such as 3x2.5 mm2"
    known = (*CONSTRUCTIONS, *MATERIALS, *_INSULATION, "awg", "kcmil")
    near = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    if near and near[0] != word.lower():
        return f"did you mean {_INSULATION.get(near[0], near[0].replace('awg', 'AWG'))}?"
    return "one of " + ", ".join((*CONSTRUCTIONS, *MATERIALS)) + ", or an insulation type such as THHN"
