"""How the code's stranded conductors are computed: circular mils, strands and layers of concentric lay."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, localcontext
from functools import cache

from pipeline.checks._figures import figures, place
from pipeline.tables import wire
from pipeline.tables.conductor import printed_size
from pipeline.tables.insulated import RUN

__all__ = ["MM_PER_MIL", "Lay", "cmil_unit", "lay_of"]

#: Concentric lay: strands -> overall diameter in strand diameters.
LAYERS = {1: 1, 7: 3, 19: 5, 37: 7, 61: 9, 91: 11, 127: 13}
#: The code computes with stranded conductors two per cent longer than solid ones.
LAY = Decimal("1.02")

MM_PER_MIL = wire.MM_PER_INCH / 1000
#: A circular mil in mm2.
SQUARE_MIL = wire.PI / 4 * MM_PER_MIL**2
TENTH_MIL = Decimal("0.1")


def cmil_unit(value: Decimal) -> Decimal:
    """Circular mils are printed with three figures below 10,000 and four above."""
    return figures(value, 3 if value < 10_000 else 4)


@dataclass(frozen=True, slots=True)
class Lay:
    """What Table 8 is computed from: circular mils, strands, and the strand rounded to a tenth of a mil."""

    cmil: Decimal
    strands: int
    layers: int
    strand_mil: Decimal
    exact_strand_mil: Decimal
    notation: tuple[str, str]

    @property
    def conducting_mm2(self) -> Decimal:
        """Area that the resistances rest on: of the rounded strands, less the lay."""
        mils = self.cmil if self.strands == 1 else self.strands * self.strand_mil**2 / LAY
        return mils * SQUARE_MIL

    @property
    def metal_mm2(self) -> Decimal:
        """Area of the circular mils."""
        return self.cmil * SQUARE_MIL

    @property
    def nominal_mm2(self) -> Decimal:
        """Area of the size itself, from the unrounded diameter."""
        return wire.size_area_mm2(*self.notation)

    @property
    def overall_mm2(self) -> Decimal:
        """Area inside the overall diameter, from the circular mils as printed; solid ones are all metal."""
        if self.strands == 1:
            return self.metal_mm2
        return self.layers**2 * self.cmil.quantize(cmil_unit(self.cmil)) / self.strands * SQUARE_MIL

    @property
    def overall_in(self) -> Decimal:
        """Overall diameter in inches as the table rounds it, half to even."""
        return (self.layers * self.strand_mil / 1000).quantize(place(3))


@cache
def lay_of(size: str, strands: str) -> Lay | None:
    """The lay of a printed size; None where there is no such size or number of strands."""
    written = printed_size(size)
    count = int(strands) if strands.isdigit() else 0
    if size not in RUN or count not in LAYERS:
        return None
    with localcontext() as context:
        context.prec = wire.DIGITS
        if written.endswith("kcmil"):
            cmil, notation = Decimal(size) * 1000, ("kcmil", size)
        else:
            # The code's circular mils are those of the diameter rounded to a tenth of a mil.
            number = 1 - int(size[0]) if "/" in size else int(size)
            mils = wire.awg_series_mm(number) / MM_PER_MIL
            cmil, notation = mils.quantize(TENTH_MIL, ROUND_HALF_UP) ** 2, ("AWG", str(number))
        strand = (cmil / count).sqrt()
        return Lay(cmil, count, LAYERS[count], strand.quantize(TENTH_MIL, ROUND_HALF_UP), strand, notation)
