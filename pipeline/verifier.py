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
        self.tables = self._tables([r for found in self.readings.values() for r in found])
        self.checks: dict[str, list[Check]] = {}
        for check in all_checks():
            for stem in check.reads:
                self.checks.setdefault(stem, []).append(check)

    def judge(self, error: Mutation) -> Verdict:
        """Run what an error can touch, cheapest first, and say what catches it."""
        form = check_rows(error.rows, self.raw_schemas[error.stem])
        if form:
            return Verdict(True, form[0].check_id)
        printed = {**self.printed, error.stem: error.rows}
        strange = unknown_sources({"sources": printed["sources"], error.stem: error.rows}, unused=False)
        if strange:
            return Verdict(True, strange[0].check_id)
        try:
            raw = {
                **self.raw,
                **apply_corrections(
                    {error.stem: error.rows, "corrections": self._ledger(error.stem)}, self.raw_schemas
                ),
            }
            readings = self._readings(raw, error.stem)
            tables = self._tables(readings)
        except BuildError as failed:
            return Verdict(True, failed.failures[0].check_id)
        except (KeyError, ValueError, ArithmeticError, IndexError, StopIteration) as failed:
            return Verdict(True, type(failed).__name__)
        return self._checked(error, raw, readings, tables)

    def _checked(self, error: Mutation, raw: Raw, readings: list[Reading], tables: MutableTables) -> Verdict:
        if tables == self.tables and self._provenance(readings) == self._provenance(self._all()):
            return Verdict(False, changes_nothing=True)
        context = Context(raw, tables, readings)
        second = False
        for check in sorted(self.checks.get(error.stem, ()), key=lambda c: c.layer == "second keying"):
            try:
                failed = bool(run_check(check, context).failures)
            except (KeyError, ValueError, ArithmeticError, IndexError, StopIteration):
                failed = True
            if failed and check.layer != "second keying":
                return Verdict(True, check.id)
            second = second or failed
        return Verdict(False, second_keying=second, less_safe=self._less_safe(tables))

    def _ledger(self, stem: str) -> list[RawRow]:
        return [row for row in self.printed["corrections"] if row["file"] == stem]

    def _all(self) -> list[Reading]:
        return [r for found in self.readings.values() for r in found]

    def _readings(self, raw: Raw, stem: str) -> list[Reading]:
        changed = self.readers.get(stem, [])
        return [
            r
            for module, found in self.readings.items()
            for r in (module.conform(raw) if module in changed else found)
        ]

    def _tables(self, readings: list[Reading]) -> MutableTables:
        failures: list[Failure] = []
        tables = from_readings(readings, self.schemas, failures)
        if not failures:
            derive(self.derivations, tables, self.schemas, failures)
        if failures:
            raise BuildError(failures)
        return tables

    @staticmethod
    def _provenance(readings: list[Reading]) -> set[tuple[object, ...]]:
        """What is published of the readings beside their values."""
        return {
            (r.table, r.key, r.column, r.rank, r.row.source, r.row.access, r.origin, r.value)
            for r in readings
        }

    def _less_safe(self, tables: MutableTables) -> bool:
        """Whether some value moved to the side on which more is allowed than is true."""
        for name, schema in self.schemas.items():
            for field in schema.fields:
                if field.less_safe and self._moved(name, field.name, field.less_safe, tables):
                    return True
        return False

    def _moved(self, table: str, column: str, side: str, tables: MutableTables) -> bool:
        old, new = self.tables.get(table, {}), tables.get(table, {})
        for key, row in new.items():
            before, after = old.get(key, {}).get(column), row.get(column)
            if before is not None and after is not None and before != after:
                higher = float(after) > float(before)
                if higher == (side == "higher"):
                    return True
        return False
