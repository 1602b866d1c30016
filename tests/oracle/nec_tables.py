"""Figures of NEC 314.16, typed for the oracle alone (NFPA 70-2020 and 70-2023, secondary readings).

Volumes: Table 314.16(A), 24 rows, the same in the 2011 model, 2020 and 2023 (2014 and 2017 stand
between). Allowances: Table 314.16(B), from 2023 Table 314.16(B)(1). A second keying, apart from raw/.
"""

from __future__ import annotations

from fractions import Fraction

from .words import BoxKey, read_box

#: Year of each edition that can be asked for.
YEARS = {"nec-2014": 2014, "nec-2017": 2017, "nec-2020": 2020, "nec-2023": 2023}

#: Table 314.16(B): in3 for each counted conductor. Nothing is printed for 4 AWG and larger.
ALLOWANCE = {
    "18 AWG": Fraction("1.50"), "16 AWG": Fraction("1.75"), "14 AWG": Fraction("2.00"),
    "12 AWG": Fraction("2.25"), "10 AWG": Fraction("2.50"), "8 AWG": Fraction("3.00"),
    "6 AWG": Fraction("5.00"),
}  # fmt: skip

#: Table 314.16(A): name, least volume in in3, whether the volume is that of one gang.
_BOXES = """
4 x 1-1/4 round|12.5|no
4 x 1-1/2 round|15.5|no
4 x 2-1/8 round|21.5|no
4 x 1-1/4 square|18.0|no
4 x 1-1/2 square|21.0|no
4 x 2-1/8 square|30.3|no
4-11/16 x 1-1/4 square|25.5|no
4-11/16 x 1-1/2 square|29.5|no
4-11/16 x 2-1/8 square|42.0|no
3 x 2 x 1-1/2 device|7.5|yes
3 x 2 x 2 device|10.0|yes
3 x 2 x 2-1/4 device|10.5|yes
3 x 2 x 2-1/2 device|12.5|yes
3 x 2 x 2-3/4 device|14.0|yes
3 x 2 x 3-1/2 device|18.0|yes
4 x 2-1/8 x 1-1/2 device|10.3|yes
4 x 2-1/8 x 1-7/8 device|13.0|yes
4 x 2-1/8 x 2-1/8 device|14.5|yes
3-3/4 x 2 x 2-1/2 masonry|14.0|yes
3-3/4 x 2 x 3-1/2 masonry|21.0|yes
FS single 1-3/4|13.5|yes
FD single 2-3/8|18.0|yes
FS multiple 1-3/4|18.0|yes
FD multiple 2-3/8|24.0|yes
"""

#: The same boxes by metric trade size, as Table 314.16(A) prints them (mm).
METRIC_NAMES = {
    "100 x 32 round": "4 x 1-1/4 round", "100 x 38 round": "4 x 1-1/2 round",
    "100 x 54 round": "4 x 2-1/8 round", "100 x 32 square": "4 x 1-1/4 square",
    "100 x 38 square": "4 x 1-1/2 square", "100 x 54 square": "4 x 2-1/8 square",
    "120 x 32 square": "4-11/16 x 1-1/4 square", "120 x 38 square": "4-11/16 x 1-1/2 square",
    "120 x 54 square": "4-11/16 x 2-1/8 square", "75 x 50 x 38 device": "3 x 2 x 1-1/2 device",
    "75 x 50 x 50 device": "3 x 2 x 2 device", "75 x 50 x 57 device": "3 x 2 x 2-1/4 device",
    "75 x 50 x 65 device": "3 x 2 x 2-1/2 device", "75 x 50 x 70 device": "3 x 2 x 2-3/4 device",
    "75 x 50 x 90 device": "3 x 2 x 3-1/2 device", "100 x 54 x 38 device": "4 x 2-1/8 x 1-1/2 device",
    "100 x 54 x 48 device": "4 x 2-1/8 x 1-7/8 device",
    "100 x 54 x 54 device": "4 x 2-1/8 x 2-1/8 device",
    "95 x 50 x 65 masonry": "3-3/4 x 2 x 2-1/2 masonry",
    "95 x 50 x 90 masonry": "3-3/4 x 2 x 3-1/2 masonry",
}  # fmt: skip

BOX_NAMES = tuple(line.split("|")[0] for line in _BOXES.split("\n") if line)

#: Box as read -> (volume in in3, is it that of one gang).
VOLUME: dict[BoxKey, tuple[Fraction, bool]] = {
    read_box(name): (Fraction(volume), gang == "yes")
    for name, volume, gang in (line.split("|") for line in _BOXES.split("\n") if line)
}
VOLUME.update({read_box(metric): VOLUME[read_box(inch)] for metric, inch in METRIC_NAMES.items()})
