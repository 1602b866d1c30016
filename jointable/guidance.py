"""What is said beside an answer: how a joint is made up, old aluminium, what the mix means, wet places.

The words, clauses and figures are rows of `guidance` and `overcurrent_limit`; here they are chosen.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from jointable.demands import Demands
from jointable.errors import InputError
from jointable.facts import Conductor, Facts
from jointable.known import known

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["TOPICS", "advice_on", "guidance_of", "merged", "note_edition"]

#: The topics, as the table names them -> as an answer does.
TOPICS = {
    "make-up": "make_up",
    "aluminium": "aluminium",
    "electrical": "electrical",
    "wet place": "wet_place",
}

#: The edition whose clauses are told where none is given.
_EDITION = "nec-2023"

#: Conductors up to this area may be fixture wire or power-limited: thinner than 14 AWG.
_THIN = "14 AWG"

Line = dict[str, Any]


@dataclass(frozen=True, slots=True)
class _Lines:
    rows: tuple[Mapping[str, Any], ...]
    limits: tuple[Mapping[str, Any], ...]
    editions: tuple[str, ...]


_LINES: WeakKeyDictionary[Reference, _Lines] = WeakKeyDictionary()


def _lines(reference: Reference) -> _Lines:
    found = _LINES.get(reference)
    if found is None:
        found = _LINES[reference] = _Lines(
            tuple(reference.records("SELECT * FROM guidance ORDER BY topic, line")),
            tuple(reference.records("SELECT * FROM overcurrent_limit ORDER BY greatest_a, size")),
            tuple(str(r[0]) for r in reference.rows("SELECT edition FROM edition ORDER BY ALL")),
        )
    return found


def note_edition(reference: Reference, edition: str | None) -> str:
    """The edition whose clauses the notes cite.

    Args:
        reference: The open database.
        edition: An edition, or None.

    Returns:
        The edition, nec-2023 where none is given.

    Raises:
        InputError: There is no such edition.

    Source: table `edition`.

    Example:
        >>> import jointable
        >>> note_edition(jointable.open(), None)
        'nec-2023'
    """
    if edition is None:
        return _EDITION
    text = str(edition).strip().lower()
    known_ones = _lines(reference).editions
    if text not in known_ones:
        raise InputError(
            "unknown edition", column="edition", value=edition, expected="one of " + ", ".join(known_ones)
        )
    return text


def guidance_of(
    reference: Reference,
    facts: Facts,
    demands: Demands,
    families: Iterable[str],
    edition: str | None = None,
    power_limited: bool = False,
) -> dict[str, list[Line]]:
    """The lines that belong to a joint.

    Args:
        reference: The open database.
        facts: The joint.
        demands: What was asked of the connector.
        families: The families that may take it.
        edition: The edition whose clauses are cited; nec-2023 unless said.
        power_limited: Whether a conductor is known to be power-limited.

    Returns:
        `make_up`, `aluminium`, `electrical` and `wet_place`: lines of line, kind, text, clause and
        provenance; currents in A, lengths in mm and m as the text says.

    Raises:
        InputError: There is no such edition.

    Source: tables `guidance` and `overcurrent_limit`.

    Example:
        >>> import jointable
        >>> answer = jointable.open().connectors("2x14 aluminium stranded", family="twist-on").to_dict()
        >>> answer["aluminium"][0]["clause"], answer["wet_place"]
        ('CPSC publication 516', [])
    """
    chosen = note_edition(reference, edition)
    holds = _conditions(facts, demands)
    if power_limited:
        holds.add("power-limited")
    table = known(reference)
    for family in dict.fromkeys(families):
        about = table.families[family]
        holds.add(about["series"])
        holds.add("uninsulated" if about["insulated"].startswith("no") else "insulated")
        if "screw" in about["principle"] or "bolt" in about["principle"]:
            holds.add("screw")
    out = advice_on(reference, holds, chosen)
    out["electrical"] = _protection(reference, facts, chosen) + out["electrical"]
    if facts.solid_aluminium:
        # Such a joint is not made at all, so nothing says how.
        out["make_up"] = [line for line in out["make_up"] if line["kind"] == "before"]
    return out


def advice_on(reference: Reference, holds: Collection[str], edition: str) -> dict[str, list[Line]]:
    """The lines whose condition holds.

    Args:
        reference: The open database.
        holds: Conditions, as `shown_when` names them; `always` holds where any does.
        edition: The edition whose clauses are cited.

    Returns:
        For each topic its lines; `aluminium` and `wet_place` are empty where nothing calls for them.

    Source: table `guidance`.

    Example:
        >>> import jointable
        >>> lines = advice_on(jointable.open(), {"burial", "damp or wet"}, "nec-2023")["wet_place"]
        >>> {line["kind"] for line in lines} == {"permitted", "preferred", "reason"}
        True
    """
    out: dict[str, list[Line]] = {name: [] for name in TOPICS.values()}
    for row in _lines(reference).rows:
        if row["shown_when"] in holds and _stands(row, edition):
            out[TOPICS[row["topic"]]].append(_line(row))
    return out


def merged(answers: Iterable[Mapping[str, Any]]) -> dict[str, list[Line]]:
    """The lines of several answers, each once, in the order of the table.

    Args:
        answers: Answers that hold lines of advice, or what `guidance_of` gave.

    Returns:
        For each topic its lines.

    Source: none; a form of this project.

    Example:
        >>> merged([{"make_up": [{"line": "b", "text": "B"}]}, {"make_up": [{"line": "a", "text": "A"}]}])["make_up"]
        [{'line': 'a', 'text': 'A'}, {'line': 'b', 'text': 'B'}]
    """
    out: dict[str, dict[tuple[str, str], Line]] = {name: {} for name in TOPICS.values()}
    for answer in answers:
        for name, held in out.items():
            for line in answer.get(name, ()):
                held.setdefault((line["line"], line["text"]), line)
    return {name: [held[key] for key in sorted(held)] for name, held in out.items()}


def _line(row: Mapping[str, Any]) -> Line:
    key = f"guidance/{row['topic']},{row['line']}/text"
    return {
        "line": row["line"],
        "kind": row["kind"],
        "text": row["text"],
        "clause": row["clause"],
        "caution": row["caution"],
        "provenance": [key],
    }


def _stands(row: Mapping[str, Any], edition: str) -> bool:
    """Whether a row is of the edition's code and years; a row without edition always is."""
    first, last = row["edition_from"], row["edition_to"]
    if first is None:
        return True
    if first.partition("-")[0] != edition.partition("-")[0]:
        return False
    return bool(first <= edition and (last is None or edition <= last))


def _conditions(facts: Facts, demands: Demands) -> set[str]:
    holds = {"always"}
    holds.add("free end" if facts.conductors == 1 else "joint")
    if facts.solid and (facts.stranded or facts.flexible):
        holds.add("solid and stranded")
    if facts.flexible:
        holds.add("flexible")
    if facts.aluminium:
        holds.add("aluminium")
    if facts.solid_aluminium:
        holds.add("solid aluminium")
    if demands.location in ("damp", "wet", "burial"):
        holds.add("damp or wet")
    if demands.location == "burial":
        holds.add("burial")
    return holds


def _protection(reference: Reference, facts: Facts, edition: str) -> list[Line]:
    """What the smallest conductor allows, and where the code's small-conductor rule has no figure."""
    if not edition.startswith("nec"):
        return []
    lines = _lines(reference)
    table = {(r["rule"], r["material"], r["size"]): r for r in lines.limits if _stands(r, edition)}
    rows = {r["line"]: r for r in lines.rows if r["topic"] == "electrical"}
    found = [
        (limit["greatest_a"], c, limit)
        for c in facts.conductors_listed
        if (limit := table.get(("small conductors", c.material, c.size)))
    ]
    out = []
    if found:
        _, conductor, limit = min(found, key=lambda f: (f[0], f[1].rank))
        text = f"{conductor.size} {conductor.material} allows overcurrent protection of {limit['greatest_a']} A at most, unless the code says otherwise for the equipment"
        out.append(_limit_line("05 limit", text, limit))
    # Without a figure for a thinner conductor no figure of the joint is its least.
    silent = [c for c in facts.conductors_listed if ("small conductors", c.material, c.size) not in table]
    thin = [c for c in silent if c.area_mm2 < known(reference).size(_THIN).area_mm2]
    if thin:
        out = []
    if any(c.size.endswith("mm2") for c in silent):
        out.append(_line(rows["12 metric"]))
    if not found and any(not c.size.endswith("mm2") for c in silent):
        out.append(_line(rows["11 other sizes"]))
    return out + _thin(reference, facts, table, rows, edition)


def _thin(
    reference: Reference,
    facts: Facts,
    table: Mapping[tuple[str, str, str], Mapping[str, Any]],
    rows: Mapping[str, Mapping[str, Any]],
    edition: str,
) -> list[Line]:
    """Conductors thinner than branch wiring may be fixture wire, or power-limited."""
    least = known(reference).size(_THIN).area_mm2
    thin: dict[str, Conductor] = {c.size: c for c in facts.conductors_listed if c.area_mm2 < least}
    if not thin:
        return []
    out = [_line(rows["15 fixture wire"])]
    for size, conductor in thin.items():
        limit = table.get(("fixture wire", conductor.material, size))
        if limit is not None:
            length = f" to a length of {limit['length_m']} m" if limit["length_m"] else ""
            text = f"{size} as fixture wire may be on a branch circuit of {limit['greatest_a']} A at most{length}"
            out.append(_limit_line(f"16 fixture wire {size}", text, limit))
    shared = [r for r in rows.values() if r["shown_when"] == "power-limited" and _stands(r, edition)]
    return out + [_line(r) for r in shared]


def _limit_line(name: str, text: str, limit: Mapping[str, Any]) -> Line:
    key = f"{limit['rule']},{limit['edition_from']},{limit['material']},{limit['size']}"
    return {
        "line": name,
        "kind": "protection",
        "text": text,
        "clause": f"NEC {limit['clause']}",
        "caution": None,
        "provenance": [f"overcurrent_limit/{key}/greatest_a"],
    }
