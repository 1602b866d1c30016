"""What to stock and what to buy, on a terminal."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.text import Text

from jointable.language import said
from jointable.present import show_closing, show_rows
from jointable.present_advice import show_guidance
from jointable.trace import plain

__all__ = ["show_buying", "show_stock"]

#: So many points of cost against room are printed; `--json` has them all.
_SHOWN = 8


def show_stock(out: Console, answer: dict[str, Any]) -> None:
    """Print the answer of `stock`.

    Args:
        out: Where to print.
        answer: The answer, as `--json` prints it.

    Source: none; a form of this project.

    Example:
        >>> show_stock(Console(width=80), {"classes": [], "curve": [], "data_version": "0",
        ...     "unserved": [{"box": "A", "joint": "n", "reason": "one conductor: an end cap, not a joint"}]})
        no joint is served
        not served: A n: one conductor: an end cap, not a joint
        data 0
    """
    rows = [(c["class"], str(c["joints"]), str(c["quantity"])) for c in answer["classes"]]
    if rows:
        show_rows(out, ["class", "joints", "to stock"], rows, ("joints", "to stock"))
    else:
        out.print(Text("no joint is served"))
    for joint in answer["unserved"]:
        words = said("not served:", answer.get("language"))
        out.print(Text(f"{words} {joint['box']} {joint['joint']}: {joint['reason']}"))
    if len(answer["curve"]) > 1:
        points = ", ".join(f"{p['classes']}: {plain(p['room_cm3'])} cm³" for p in answer["curve"])
        out.print(Text(f"fewer classes take more room: {points}"))
    if "buying" in answer:
        show_buying(out, answer["buying"])
    show_guidance(out, answer)
    show_closing(out, answer)


def show_buying(out: Console, buying: dict[str, Any]) -> None:
    """Print packs to buy, their cost, and what less room costs.

    Args:
        out: Where to print.
        buying: The part `buying` of an answer of `stock`.

    Source: none; a form of this project.

    Example:
        >>> show_buying(Console(width=80), {"purchases": [], "cost": 0, "cost_per_joint": None,
        ...     "unpriced": ["twist-on 10"], "joints_without_a_priced_class": 0, "curve": []})
        no price: twist-on 10
    """
    rows = [
        (
            p["class"],
            " + ".join(f"{n['packs']} x {n['pack_size']}" for n in p["packs"]),
            plain(p["cost"]),
            plain(p["cost_per_joint"]),
        )
        for p in buying["purchases"]
    ]
    if rows:
        names = ["to buy", "packs", "cost", "each joint"]
        rows.append(("all", "", plain(buying["cost"]), ""))
        show_rows(out, names, rows, ("cost", "each joint"))
    for name in buying["unpriced"]:
        out.print(Text(f"no price: {name}"))
    if buying["joints_without_a_priced_class"]:
        out.print(Text(f"joints that no priced class takes: {buying['joints_without_a_priced_class']}"))
    curve = buying["curve"]
    if len(curve) > 1:
        told = ", ".join(f"{plain(p['cost'])}: {plain(p['room_cm3'])} cm³" for p in curve[:_SHOWN])
        out.print(Text(f"less room costs more: {told}" + (", …" if len(curve) > _SHOWN else "")))
