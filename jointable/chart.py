"""The smallest class for so many conductors of one size: a chart of one family, to print and carry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from jointable.demands import Demands, one_of
from jointable.known import known

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["SYSTEMS", "Chart", "ChartRow", "chart_of_family", "joint_of_cell"]

#: The size systems of a chart: even AWG sizes, as pulled, or square millimetres.
SYSTEMS = ("awg", "mm2")

_TRADE = {
    "awg": "system = 'AWG' AND (nominal % 2 = 0 OR nominal <= 1) AND nominal <= 24",
    "mm2": "system = 'mm2' AND nominal >= 0.5",
}

#: What stands across the top, by what a joint of the family is.
_COUNTED, _ENDED, _TAPPED = "conductors", "conductors in each end", "tap"

_TAP_SERIES = ("split bolt", "insulation-piercing")


@dataclass(frozen=True, slots=True)
class ChartRow:
    """One size, and the smallest class for each column: its name without the family; None where none takes it."""

    size: str
    classes: tuple[str | None, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """The smallest classes of one family by size and count."""

    family: str
    grip: str | None
    sizes: str
    across: str
    columns: tuple[str, ...]
    rows: tuple[ChartRow, ...]
    edition: str
    data_version: str
    assumptions: tuple[str, ...]
    cautions: tuple[dict[str, Any], ...]

    def to_dict(self) -> dict[str, Any]:
        """The chart as `--json` prints it."""
        return {
            "data_version": self.data_version,
            "edition": self.edition,
            "family": self.family,
            "grip": self.grip,
            "sizes": self.sizes,
            "across": self.across,
            "columns": list(self.columns),
            "rows": [{"size": r.size, "classes": list(r.classes)} for r in self.rows],
            "assumptions": list(self.assumptions),
            "cautions": [dict(c) for c in self.cautions],
        }


def chart_of_family(
    reference: Reference,
    family: str = "twist-on",
    *,
    grip: str | None = None,
    sizes: str = "awg",
    edition: str | None = None,
) -> Chart:
    """The smallest general class for so many conductors of one size.

    Args:
        reference: The open database.
        family: The family.
        grip: `standard` or `wide`; unsaid, whichever class takes less room.
        sizes: `awg` or `mm2`.
        edition: The code edition whose clauses stand under the chart, by default nec-2023.

    Returns:
        A row a size that some class takes, a column a count: two to six in one connector; one to six
        in each end of a butt joint; for a tap the size of the tap. Classes are named by mm2 (and ways).

    Raises:
        InputError: Family, grip, sizes or edition are not known.

    Source: definition of the size classes (this project).

    Example:
        >>> import jointable
        >>> chart = chart_of_family(jointable.open())
        >>> [r.classes for r in chart.rows if r.size == "12 AWG"]
        [('10', '10', '16', '25', '25')]
    """
    demands = Demands.of(family=family or "twist-on", grip=grip)
    chosen, grip = str(demands.family), demands.grip
    system = one_of(str(sizes).lower(), SYSTEMS, "sizes") or "awg"
    used = _edition(reference, edition)
    across = _TAPPED if chosen in _TAP_SERIES else _ENDED if chosen == "crimped butt" else _COUNTED
    columns, rows = _cells(reference, chosen, grip, system, across)
    return Chart(
        chosen,
        grip,
        system,
        across,
        columns,
        rows,
        used,
        reference.data_version,
        (
            f"{_ALIKE[across]}, copper, in their usual construction",
            f"general variant, in a dry place, not above 105 °C; {_named(chosen, across)}",
        ),
        tuple(
            {"id": c["id"], "text": c["text"], "clause": c["clause"]}
            for c in known(reference).cautions
            if c["shown_when"] == "always"
        ),
    )


def joint_of_cell(across: str, size: str, column: str) -> str:
    """The joint that a cell of a chart stands for.

    Args:
        across: What stands across the top, as `Chart.across` has it.
        size: The size of the row.
        column: The head of the column.

    Returns:
        The joint in joint notation.

    Raises:
        KeyError: There is no such chart.

    Source: none; the notation is this project's.

    Example:
        >>> joint_of_cell("conductors in each end", "12 AWG", "2")
        '2x12 AWG | 2x12 AWG'
    """
    forms = {
        _COUNTED: f"{column}x{size}",
        _ENDED: f"{column}x{size} | {column}x{size}",
        _TAPPED: f"1x{size} + 1x{column}",
    }
    return forms[across]


_ALIKE = {
    _COUNTED: "all conductors of one size",
    _ENDED: "all conductors of one size, as many in one end as in the other",
    _TAPPED: "one run and one tap",
}


def _named(family: str, across: str) -> str:
    """What the number in the name of a class is."""
    if across == _TAPPED:
        return "a class is named by the largest run it takes, in mm²"
    if family == "twist-on" or family.startswith("crimped"):
        return f"a class is named by the greatest total it takes{' in one end' if across == _ENDED else ''}, in mm²"
    return "a class is named by the largest conductor it takes, in mm², and its ways"


def _edition(reference: Reference, edition: str | None) -> str:
    names = [r[0] for r in reference.rows("SELECT edition FROM edition ORDER BY edition")]
    return one_of(edition, tuple(names), "edition") or "nec-2023"


def _cells(
    reference: Reference, family: str, grip: str | None, system: str, across: str
) -> tuple[tuple[str, ...], tuple[ChartRow, ...]]:
    """Columns and rows; rows that no class takes at all are left out, and so are such columns."""
    trade = f"SELECT size, rank FROM conductor_size WHERE {_TRADE[system]}"
    if across == _TAPPED:
        pairs = "SELECT a.size AS size, b.size AS across FROM trade a JOIN trade b ON b.rank <= a.rank"
        given = (
            "SELECT size || '|' || across AS joint, 1 AS quantity, unnest([size, across]) AS size FROM pairs"
        )
    else:
        first = 1 if across == _ENDED else 2
        pairs = f"SELECT size, n::VARCHAR AS across FROM trade, range({first}, 7) AS counts(n)"
        end = ", unnest([1, 2]) AS end_of" if across == _ENDED else ""
        given = f"SELECT size || '|' || across AS joint, across::INTEGER AS quantity, size{end} FROM pairs"
    only = "" if grip is None else f", grip := '{grip}'"
    found = reference.rows(
        f"WITH trade AS ({trade}), pairs AS ({pairs}), given AS ({given}) "
        f"SELECT p.size, t.rank, p.across, c.class FROM pairs p JOIN trade t ON t.size = p.size "
        f"LEFT JOIN joint_choice('given', family := '{family}'{only}) c ON c.joint = p.size || '|' || p.across"
    )
    taken = [r for r in found if r[3] is not None]
    ranks = {size: rank for size, rank, *_ in taken}
    tops = {r[2] for r in taken}
    columns = sorted(tops, key=int) if across != _TAPPED else sorted(tops, key=lambda s: _rank(found, s))
    cell = {(size, top): name.removeprefix(f"{family} ") for size, _, top, name in taken}
    return tuple(columns), tuple(
        ChartRow(size, tuple(cell.get((size, top)) for top in columns))
        for size in sorted(ranks, key=lambda s: ranks[s])
    )


def _rank(found: list[tuple[Any, ...]], size: str) -> int:
    return int(next(rank for s, rank, *_ in found if s == size))
