"""The verification on changed rows, in this process: only what a changed file can touch is run again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import ModuleType

from pipeline.checks import Check, Context, all_checks, run_check
from pipeline.conform import MutableTables, derive, from_readings, table_modules
from pipeline.corrections import apply_corrections
from pipeline.failures import BuildError, Failure
from pipeline.mutations import Mutation
from pipeline.read import RawText, check_rows, unknown_sources
from pipeline.readings import Raw, RawRow, Reading
from pipeline.schema import load_raw_schemas, load_schemas

__all__ = ["Verdict", "Verifier"]

#: Derived tables that take long and that no check of printed cells looks at.
DEAR = ("combination", "combination_class")

#: What changed rows may raise in code that reads true ones: the build would stop, so it counts as caught.
BROKEN = (KeyError, ValueError, ArithmeticError, IndexError, StopIteration, AttributeError)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the verification made of one error."""

    caught: bool
    by: str = ""
    second_keying: bool = False
    changes_nothing: bool = False
    less_safe: bool = False


class _Recorder(Mapping[str, list[RawRow]]):
    """Raw rows that note which files are asked for."""

    def __init__(self, raw: Raw) -> None:
        self.raw, self.asked = raw, set[str]()

    def __getitem__(self, stem: str) -> list[RawRow]:
        self.asked.add(stem)
        return self.raw[stem]

    def __iter__(self) -> Iterator[str]:
        return iter(self.raw)

    def __len__(self) -> int:
        return len(self.raw)


class Verifier:
    """Judges errors against one true reading of raw/.

    Args:
        printed: The raw rows as printed, before the corrections ledger.
    """

    def __init__(self, printed: RawText) -> None:
        self.printed = printed
        self.raw_schemas, self.schemas = load_raw_schemas(), load_schemas()
        self.raw = apply_corrections(printed, self.raw_schemas)
        self.readers: dict[str, list[ModuleType]] = {}
        self.readings: dict[ModuleType, list[Reading]] = {}
        for module in table_modules():
            recorder = _Recorder(self.raw)
            self.readings[module] = list(module.conform(recorder)) if hasattr(module, "conform") else []
            for stem in recorder.asked:
                self.readers.setdefault(stem, []).append(module)
        self.derivations = [
            d for m in table_modules() for d in getattr(m, "DERIVATIONS", ()) if d.table not in DEAR
        ]
        self.tables: MutableTables = self._tables(self.readings, None)
        self.published = {m: self._provenance(found) for m, found in self.readings.items()}
        self.checks: dict[str, list[Check]] = {}
        for check in all_checks():
            for stem in check.reads:
                self.checks.setdefault(stem, []).append(check)

    def judge(self, error: Mutation) -> Verdict:
        """Run what an error can touch, cheapest first, and say what catches it."""
        form = check_rows(error.rows, self.raw_schemas[error.stem])
        if form:
            return Verdict(True, form[0].check_id)
        strange = unknown_sources({"sources": self.printed["sources"], error.stem: error.rows}, unused=False)
        if strange:
            return Verdict(True, strange[0].check_id)
        try:
            ledger = {error.stem: error.rows, "corrections": self._ledger(error.stem)}
            raw = {**self.raw, **apply_corrections(ledger, self.raw_schemas)}
            changed = self.readers.get(error.stem, [])
            readings = {
                m: list(m.conform(raw)) if m in changed else found for m, found in self.readings.items()
            }
            tables = self._tables(readings, self._touched(changed, readings))
        except BuildError as failed:
            return Verdict(True, failed.failures[0].check_id)
        except BROKEN as failed:
            return Verdict(True, type(failed).__name__)
        if tables == self.tables and all(self._provenance(readings[m]) == self.published[m] for m in changed):
            return Verdict(False, changes_nothing=True)
        return self._checked(error, Context(raw, tables, [r for found in readings.values() for r in found]))

    def _checked(self, error: Mutation, context: Context) -> Verdict:
        second = False
        for check in sorted(self.checks.get(error.stem, ()), key=lambda c: c.layer == "second keying"):
            try:
                failed = bool(run_check(check, context).failures)
            except BROKEN:
                failed = True
            if failed and check.layer != "second keying":
                return Verdict(True, check.id)
            second = second or failed
        return Verdict(False, second_keying=second, less_safe=self._less_safe(context.tables))

    def _ledger(self, stem: str) -> list[RawRow]:
        return [row for row in self.printed["corrections"] if row["file"] == stem]

    def _touched(self, changed: list[ModuleType], readings: Mapping[ModuleType, list[Reading]]) -> set[str]:
        """Tables that the changed modules fill, and those computed from them."""
        touched = {r.table for m in changed for r in (*readings[m], *self.readings[m])}
        grown = True
        while grown:
            more = {d.table for d in self.derivations if touched & {i.table for i in d.inputs}} - touched
            touched |= more
            grown = bool(more)
        return touched

    def _tables(
        self, readings: Mapping[ModuleType, list[Reading]], touched: set[str] | None
    ) -> MutableTables:
        """The tables that the readings make; those not touched are taken as they are."""
        failures: list[Failure] = []
        wanted = [r for found in readings.values() for r in found if touched is None or r.table in touched]
        made = from_readings(wanted, self.schemas, failures)
        if touched is not None:
            made = {**{n: t for n, t in self.tables.items() if n not in touched}, **made}
        formulas = [d for d in self.derivations if touched is None or d.table in touched]
        if not failures:
            derive(formulas, made, self.schemas, failures)
        if failures:
            raise BuildError(failures)
        return made

    @staticmethod
    def _provenance(readings: list[Reading]) -> set[tuple[object, ...]]:
        """What is published of the readings beside their values."""
        return {
            (r.table, r.key, r.column, r.rank, r.row.source, r.row.access, r.origin, r.value)
            for r in readings
        }

    def _less_safe(self, tables: Mapping[str, Mapping[tuple[str, ...], Mapping[str, str | None]]]) -> bool:
        """Whether some value moved to the side on which more is allowed than is true."""
        return any(
            field.less_safe and self._moved(name, field.name, field.less_safe, tables)
            for name, schema in self.schemas.items()
            for field in schema.fields
        )

    def _moved(
        self,
        table: str,
        column: str,
        side: str,
        tables: Mapping[str, Mapping[tuple[str, ...], Mapping[str, str | None]]],
    ) -> bool:
        old, new = self.tables.get(table, {}), tables.get(table, {})
        for key, row in new.items():
            before, after = old.get(key, {}).get(column), row.get(column)
            if before is not None and after is not None and before != after:
                higher = float(after) > float(before)
                if higher == (side == "higher"):
                    return True
        return False
