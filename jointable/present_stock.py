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
    language = answer.get("language")
    rows = [(c["class"], str(c["joints"]), str(c["quantity"])) for c in answer["classes"]]
    if rows:
        names = [said(name, language) for name in ("class", "joints", "to stock")]
        show_rows(out, names, rows, tuple(names[1:]))
    else:
        out.print(Text(said("no joint is served", language)))
    for joint in answer["unserved"]:
        words = said("not served:", language)
        out.print(Text(f"{words} {joint['box']} {joint['joint']}: {joint['reason']}"))
    if len(answer["curve"]) > 1:
        points = ", ".join(f"{p['classes']}: {plain(p['room_cm3'])} cm³" for p in answer["curve"])
        out.print(Text(f"{said('fewer classes take more room:', language)} {points}"))
    if "buying" in answer:
        show_buying(out, answer["buying"], language)
    show_guidance(out, answer)
    show_closing(out, answer)


def show_buying(out: Console, buying: dict[str, Any], language: str | None = None) -> None:
    """Print packs to buy, their cost, and what less room costs.

    Args:
        out: Where to print.
        buying: The part `buying` of an answer of `stock`.
        language: The language of the answer; None is English.

    Source: none; a form of this project.

    Example:
        >>> show_buying(Console(width=80), {"purchases": [], "cost": 0, "cost_per_joint": None,
        ...     "unpriced": ["twist-on 10"], "joints_without_a_priced_class": 0, "curve": []})
        no price: twist-on 10
    """
    rows = [
        (
            f"{p['class']} ({p['in_place_of']})" if p.get("in_place_of") else p["class"],
            " + ".join(f"{n['packs']} x {n['pack_size']}" for n in p["packs"]),
            plain(p["cost"]),
            plain(p["cost_per_joint"]),
        )
        for p in buying["purchases"]
    ]
    if rows:
        names = [said(name, language) for name in ("to buy", "packs", "cost", "each joint")]
        rows.append((said("all", language), "", plain(buying["cost"]), ""))
        show_rows(out, names, rows, tuple(names[2:]))
    for name in buying["unpriced"]:
        out.print(Text(f"{said('no price:', language)} {name}"))
    if buying["joints_without_a_priced_class"]:
        out.print(
            Text(
                f"{said('joints that no priced class takes:', language)} {buying['joints_without_a_priced_class']}"
            )
        )
    curve = buying["curve"]
    if len(curve) > 1:
        told = ", ".join(f"{plain(p['cost'])}: {plain(p['room_cm3'])} cm³" for p in curve[:_SHOWN])
        out.print(
            Text(f"{said('less room costs more:', language)} {told}" + (", …" if len(curve) > _SHOWN else ""))
        )
