"""What a plan takes in connectors and pigtail wire, for a box and for the whole job."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from jointable.plan_joints import Proposal

__all__ = ["PIGTAIL_CLAUSE", "added", "take_off"]

#: Why a pigtail is as long as it is.
PIGTAIL_CLAUSE = "NEC 300.14: at least 150 mm (6 in) of free conductor"


def take_off(
    proposal: Proposal, classes: Mapping[str, Mapping[str, Any]], length_mm: Decimal, boxes: int
) -> dict[str, Any]:
    """What one kind of box takes.

    Args:
        proposal: Its joints.
        classes: The class of each joint.
        length_mm: The length of a pigtail [mm].
        boxes: So many alike.

    Returns:
        `connectors`, a list of class and quantity (class None: none takes the joint), `pigtails`, a
        list of size, whether for grounding, quantity, length_mm each and total_mm, and `end_caps`.

    Source: NEC 2023, 300.14, for the length; leads of devices are not pigtails to cut.

    Example:
        >>> take_off(Proposal(), {}, Decimal(150), 1)
        {'connectors': [], 'pigtails': [], 'end_caps': 0}
    """
    connectors: Counter[str | None] = Counter()
    pigtails: Counter[tuple[str, bool]] = Counter()
    for joint in proposal.joints:
        said = classes.get(joint.name, {})
        split = said.get("split")
        names = [c["class"] for c in split["connectors"]] if split else [said.get("class")]
        connectors.update({name: names.count(name) * boxes for name in names})
        if split:
            # Jumpers between the connectors of a split are cut like pigtails.
            pigtails[(split["jumper"], all(e.ground for e in joint.ends))] += split["jumpers"] * boxes
        # Nothing is cut for a joint that must not be made as it stands.
        for size, _, to in joint.pigtails if not said.get("referred") else ():
            if not to.endswith(" lead"):
                pigtails[(size, all(e.ground for e in joint.ends))] += boxes
    caps = sum(not end.ground for end, _ in proposal.free) * boxes
    return _listed(connectors, pigtails, length_mm, caps)


def added(parts: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """The take-off of a whole job.

    Args:
        parts: Take-offs of its boxes.

    Returns:
        Their sum, in the same form.

    Source: none; a form of this project.

    Example:
        >>> one = {"connectors": [{"class": "twist-on 10", "quantity": 2}], "pigtails": [], "end_caps": 1}
        >>> added([one, one])["connectors"]
        [{'class': 'twist-on 10', 'quantity': 4}]
    """
    connectors: Counter[str | None] = Counter()
    pigtails: Counter[tuple[str, bool]] = Counter()
    length, caps = Decimal(0), 0
    for part in parts:
        caps += part["end_caps"]
        for row in part["connectors"]:
            connectors[row["class"]] += row["quantity"]
        for row in part["pigtails"]:
            pigtails[(row["size"], row["grounding"])] += row["quantity"]
            length = row["length_mm"]
    return _listed(connectors, pigtails, length, caps)


def _listed(
    connectors: Mapping[str | None, int],
    pigtails: Mapping[tuple[str, bool], int],
    length_mm: Decimal,
    caps: int,
) -> dict[str, Any]:
    return {
        "connectors": [
            {"class": name, "quantity": n} for name, n in sorted(connectors.items(), key=lambda c: str(c[0]))
        ],
        "pigtails": [
            {
                "size": size,
                "grounding": ground,
                "quantity": n,
                "length_mm": length_mm,
                "total_mm": n * length_mm,
            }
            for (size, ground), n in sorted(pigtails.items())
        ],
        "end_caps": caps,
    }
