"""A planned box as rows of an ordinary schedule, which `fill`, `room` and `stock` take."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Any

from jointable.plan_form import PlanBox
from jointable.plan_joints import End, Proposal
from jointable.schedule_form import COLUMNS

__all__ = ["rows_of", "schedule_csv", "widest"]

Row = dict[str, Any]

#: The columns that tell rows apart; rows alike in them are one row with their quantities added.
_ALIKE = ("item", "size", "joint", "circuit", "construction", "material")


def widest(sizes: Iterable[str], ranks: Mapping[str, int]) -> str | None:
    """The widest of some sizes, None where there is none.

    Args:
        sizes: Conductor sizes as printed back.
        ranks: The order of sizes, thin to thick.

    Returns:
        One of them.

    Source: the table `conductor_size`, by way of `ranks`.

    Example:
        >>> widest(["14 AWG", "12 AWG"], {"14 AWG": 1, "12 AWG": 2})
        '12 AWG'
    """
    return max(sizes, key=lambda s: ranks.get(s, 0), default=None)


def rows_of(
    box: PlanBox, proposal: Proposal, cells: Mapping[str, Any], ranks: Mapping[str, int]
) -> list[Row]:
    """The schedule of one box.

    Args:
        box: What enters it, and its devices.
        proposal: Its joints.
        cells: What the box is: a table size or a marked volume, and its sections.
        ranks: The order of conductor sizes, thin to thick.

    Returns:
        Rows with schedule columns; the first is the box.

    Source: the readings of NEC 314.16(B) and C22.1 12-3034 that the schedule states.

    Example:
        >>> from jointable.plan_form import Device, Entry
        >>> from jointable.plan_joints import propose
        >>> cable = Entry("feed", "feed", "12 AWG", "12 AWG", "", ("hot", "neutral"))
        >>> box = PlanBox("A", (cable,), (), (), ())
        >>> [r["item"] for r in rows_of(box, propose(box, {}, False), {"volume_in3": "18"}, {})]
        ['box', 'conductor', 'grounding']
    """
    own = {"boxes": str(box.boxes)} if box.boxes != 1 else {}
    rows: list[Row] = [{"item": "box", **cells, **box.extra, **own}]
    rows += _together(_conductors(box, proposal))
    for joint in proposal.joints:
        size = widest([e.size for e in joint.ends] + [p[0] for p in joint.pigtails], ranks)
        rows.append({"item": "connector", "conductor_size": size, "quantity": "1", "joint": joint.name})
    sizes = _device_sizes(box, proposal, ranks)
    for device in box.devices:
        row: Row = {"item": "device", "quantity": "1", "gangs": str(device.gangs), "note": device.name}
        row["conductor_size"] = device.size or sizes.get(device.name)
        if device.depth_mm:
            row["depth_mm"] = device.depth_mm
        rows.append(row)
    rows += [{"item": fitting, "quantity": "1"} for fitting in box.fittings]
    rows += [dict(item) for item in box.items]
    return [{"box": box.name, **{k: v for k, v in row.items() if v is not None}} for row in rows]


def _conductors(box: PlanBox, proposal: Proposal) -> Iterable[Row]:
    for entry in box.entries:
        if entry.role == "through":
            circuit = entry.circuit or None
            yield {
                "item": "through",
                "size": entry.size,
                "quantity": len(entry.conductors),
                "circuit": circuit,
            }
            if entry.ground:
                yield {"item": "grounding", "size": entry.ground, "quantity": 1}
    for joint in proposal.joints:
        for end in joint.ends:
            yield _row(end, joint.name)
        for size, made, _ in joint.pigtails:
            yield {"item": "pigtail", "size": size, "quantity": 1, "joint": joint.name, "construction": made}
    for end in [*proposal.direct, *(e for e, _ in proposal.free)]:
        yield _row(end, None)


def _row(end: End, joint: str | None) -> Row:
    entry = end.entry
    if entry.leads and entry.domed:
        item = "fixture_grounding" if end.ground else "fixture_wire"
    else:
        item = "grounding" if end.ground else "conductor"
    return {
        "item": item,
        "size": end.size,
        "quantity": 1,
        "joint": joint,
        # Grounds of all circuits are joined together: that is no mixing of circuits.
        "circuit": None if end.ground else entry.circuit or None,
        "construction": entry.construction,
        "material": entry.material,
    }


def _together(rows: Iterable[Row]) -> list[Row]:
    held: dict[tuple[Any, ...], Row] = {}
    for row in rows:
        key = tuple(row.get(c) for c in _ALIKE)
        if key in held:
            held[key]["quantity"] += row["quantity"]
        else:
            held[key] = dict(row)
    return [{**row, "quantity": str(row["quantity"])} for row in held.values()]


def _device_sizes(box: PlanBox, proposal: Proposal, ranks: Mapping[str, int]) -> dict[str, str]:
    """The largest conductor on each device, 314.16(B)(4)."""
    on: dict[str, list[str]] = {}
    ends = {e.name: e.size for e in proposal.direct}
    for terminal in proposal.terminals:
        found = [ends[w] for w in (terminal.wire or "").split(" and ") if w in ends]
        on.setdefault(terminal.device, []).extend(found)
    for joint in proposal.joints:
        entering = widest((e.size for e in joint.ends if not e.ground), ranks)
        # A device with leads of its own counts by what its leads are joined to.
        places = [
            (to.removesuffix(" lead"), entering if entering and to.endswith(" lead") else size)
            for size, _, to in joint.pigtails
        ]
        if joint.through:
            places.append((joint.through, joint.ends[0].size))
        for to, size in places:
            # The device whose name begins it; the longest, as `switch 1` begins with `switch` too.
            names = [d.name for d in box.devices if to.startswith(f"{d.name} ")]
            if names:
                on.setdefault(max(names, key=len), []).append(size)
    largest = {name: widest(sizes, ranks) for name, sizes in on.items()}
    return {name: size for name, size in largest.items() if size}


def schedule_csv(rows: Iterable[Row]) -> str:
    """Rows of a schedule as CSV text.

    Args:
        rows: Rows with schedule columns.

    Returns:
        A header with the columns that are used, then a line a row.

    Source: none; the form is this project's, on RFC 4180 (2005).

    Example:
        >>> schedule_csv([{"box": "A", "item": "clamp", "quantity": "1"}]).splitlines()[1]
        'A,clamp,,1'
    """
    held = list(rows)
    used = {c for row in held for c in row} | {"box", "item", "size", "quantity"}
    columns = [c for c in COLUMNS if c in used]
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(held)
    return out.getvalue()
