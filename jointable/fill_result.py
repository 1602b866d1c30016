"""What a fill answers, and how a row of the macro becomes it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from decimal import Decimal
from typing import Any

from jointable.fill_words import Words

__all__ = ["FillLimit", "FillLine", "FillResult", "result_of", "text_or_none", "with_changes"]


@dataclass(frozen=True, slots=True)
class FillLine:
    """What one kind of item takes of a box.

    Attributes:
        item, count, size: What it is, how many allowances, and of which conductor.
        allowance_in3, allowance_cm3: One allowance [in³, cm³].
        volume_in3, volume_cm3: What the line takes [in³, cm³]; the lines sum to what is required.
        clause: The rule.
        provenance: Ids of the values, as `trace` takes them.
    """

    item: str
    count: Decimal
    size: str | None
    allowance_in3: Decimal | None
    allowance_cm3: Decimal | None
    volume_in3: Decimal
    volume_cm3: Decimal
    clause: str
    provenance: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FillLimit:
    """A limit beside the fill.

    Attributes:
        clause, what: The rule, and what it measures.
        needed, given: The measures, in `unit`; `given` is None where the schedule states none.
        passes: True or False; None where it was not checked.
        unit: The unit of the measures.
        provenance: Ids of the values, as `trace` takes them.
    """

    clause: str
    needed: Decimal | None
    given: Decimal | None
    passes: bool | None
    what: str
    unit: str | None
    provenance: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FillResult:
    """The answer for one box, or for one space of a box.

    Attributes:
        box, space: Their names; `space` is None where the box is one.
        edition, data_version: What it was computed from.
        required_in3, required_cm3: The sum of the lines [in³, cm³].
        available_in3, available_cm3: The volume there is [in³, cm³], None where it is not known.
        passes: True, False, or None where it stays undecided.
        remaining: For each size, how many more conductors of it the box takes.
        largest_conductor: The largest conductor present.
        lines, limits: What takes volume, and the limits beside the fill.
        assumptions: What the answer rests on beside the code, in words.
        cautions: Safety cautions, each with id, text and clause.
        boxes: So many alike.
        note: The notes of the schedule.
        first_unit: `in3` or `cm3`: which people see first.
        table_box: The standard box, None for a marked volume.
        changes: What would bring the box under, where that was asked.
    """

    box: str
    space: str | None
    edition: str
    data_version: str
    required_in3: Decimal
    required_cm3: Decimal
    available_in3: Decimal | None
    available_cm3: Decimal | None
    passes: bool | None
    remaining: tuple[dict[str, Any], ...]
    largest_conductor: str | None
    lines: tuple[FillLine, ...]
    limits: tuple[FillLimit, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[dict[str, str], ...]
    boxes: int = 1
    note: str | None = None
    first_unit: str = "in3"
    table_box: str | None = None
    changes: tuple[str, ...] | None = field(default=None)

    def _repr_html_(self) -> str:
        """The answer as notebooks show it."""
        from jointable.notebook import html_fill

        return html_fill([self.to_dict()])

    def to_dict(self) -> dict[str, Any]:
        """The answer as the form that JSON prints; numbers stay exact decimals."""
        out: dict[str, Any] = {}
        for f in fields(self):
            value = getattr(self, f.name)
            if f.name in ("lines", "limits"):
                value = [{name: _plain(getattr(part, name)) for name in part.__slots__} for part in value]
            if f.name != "changes" or value is not None:
                out[f.name] = _plain(value)
        return out


class FillResults(list[FillResult]):
    """The answers of a schedule in its order: a list that notebooks show as one table."""

    def _repr_html_(self) -> str:
        from jointable.notebook import html_fill

        return html_fill([r.to_dict() for r in self])


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def result_of(
    record: Mapping[str, Any],
    data_version: str,
    words: Words,
    said: Iterable[str],
    occasions: Collection[str],
) -> FillResult:
    return FillResult(
        box=str(record["box"]),
        space=text_or_none(record["space"]),
        edition=record["edition"],
        data_version=data_version,
        required_in3=_number(record["required_in3"]) or Decimal(0),
        required_cm3=_number(record["required_cm3"]) or Decimal(0),
        available_in3=_number(record["available_in3"]),
        available_cm3=_number(record["available_cm3"]),
        passes=record["passes"],
        remaining=tuple({"size": r["size"], "count": r["count"]} for r in record["remaining"] or ()),
        largest_conductor=record["largest_conductor"],
        lines=tuple(_line(line) for line in record["lines"] or ()),
        limits=tuple(_limit(limit) for limit in record["limits"] or ()),
        assumptions=(*said, *(words.assumption(a) for a in record["assumptions"] or ())),
        cautions=words.cautions_on(occasions),
        boxes=record["boxes"] or 1,
        note=record["note"],
        first_unit=record["first_unit"] or "in3",
        table_box=record.get("table_box"),
    )


def text_or_none(value: Any) -> str | None:
    """A value as text; null stays null.

    Args:
        value: The value.

    Returns:
        Its text, or None.

    Source: none; the form is this project's.

    Example:
        >>> text_or_none(7), text_or_none(None)
        ('7', None)
    """
    return None if value is None else str(value)


def _line(line: Mapping[str, Any]) -> FillLine:
    return FillLine(
        line["item"],
        _number(line["count"]) or Decimal(0),
        line["size"],
        _number(line["allowance_in3"]),
        _number(line["allowance_cm3"]),
        _number(line["volume_in3"]) or Decimal(0),
        _number(line["volume_cm3"]) or Decimal(0),
        line["clause"],
        tuple(line["provenance"] or ()),
    )


def _limit(limit: Mapping[str, Any]) -> FillLimit:
    return FillLimit(
        limit["clause"],
        _number(limit["needed"]),
        _number(limit["given"]),
        limit["passes"],
        limit["what"],
        limit["unit"],
        tuple(limit["provenance"] or ()),
    )


def _number(value: Any) -> Decimal | None:
    """A decimal without padding zeros, in plain notation: 18, not 18.0000000000 nor 2E+1."""
    if value is None:
        return None
    number = Decimal(value).normalize()
    return number.quantize(Decimal(1)) if number == number.to_integral_value() else number


def with_changes(
    results: Sequence[FillResult], changes: Mapping[tuple[str, str | None], list[str]]
) -> list[FillResult]:
    """The results with what would bring each box under."""
    return [
        replace(r, changes=tuple(changes.get((r.box, r.space), ()))) if r.passes is False else r
        for r in results
    ]
