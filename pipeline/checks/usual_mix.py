"""Usual mixes: the words beside a mix are those that its conductors are met as."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check

__all__: list[str] = []

#: What the conductors of a mix look like that is met as the words say. The patterns share no mix.
MET_AS = {
    "a conductor that goes on": r"2x(14|12|10|8) AWG|2x(1\.5|2\.5|4|6|10) mm2",
    "a device fed through": r"3x(14|12|10) AWG",
    "a socket fed through": r"3x2\.5 mm2",
    "a branch": r"3x(1\.5|4|6) mm2",
    "several branches": r"[45]x(1\.5|2\.5) mm2",
    "neutrals or grounds of several cables": r"[45]x(14|12) AWG",
    "neutrals or grounds of many cables": r"6x14 AWG",
    "several large conductors": r"4x10 AWG",
    "a large appliance": r"3x8 AWG|1x6 AWG \+ 2x8 AWG",
    "a thinner branch": r"[123]x12 AWG \+ 1x14 AWG|2x10 AWG \+ 1x12 AWG|2x8 AWG \+ 1x10 AWG|[23]x2\.5 mm2 \+ 1x1\.5 mm2",
    "thinner branches": r"1x10 AWG \+ 2x12 AWG",
    "a luminaire lead": r"1x(14|12) AWG \+ 1x18 AWG stranded|1x1\.5 mm2 \+ 1x(0\.75|1) mm2 flexible",
    "a luminaire lead, fed through": r"2x(14|12) AWG \+ 1x18 AWG stranded|2x1\.5 mm2 \+ 1x0\.75 mm2 flexible",
    "two luminaire leads": r"1x14 AWG \+ 2x18 AWG stranded",
    "a luminaire or motor lead": r"1x(14|12) AWG \+ 1x16 AWG stranded",
    "leads of equipment": r"[23]x18 AWG stranded|2x16 AWG stranded|2x(0\.75|1\.5) mm2 flexible",
    "a control or bell circuit": r"2x(18|20) AWG",
    "a signal circuit": r"[23]x22 AWG",
}


@check(
    "usual-mix-words",
    layer="cross-check",
    reads=("usual_mix",),
    what="the words beside a mix fit its conductors: how many, of which sizes, solid or stranded",
    reason="A mix stands once and their number is held, so a mix that turns into another is caught too.",
)
def usual_mix_words(c: Context) -> Iterator[Comparison]:
    for row in c.rows("usual_mix"):
        pattern = MET_AS.get(row["met_as"], r"(?!)")
        ok = re.fullmatch(pattern, row["conductors"]) is not None
        yield Comparison(((row, "met_as"), (row, "conductors")), ok, 0.0, pattern)
