"""The verification on changed rows, in this process: only what a changed file can touch is run again.

It runs what the build runs on values: the form of each cell, keys and numbers of rows, known sources, the
checks, what the published schemas ask for, and the keys between tables.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import ModuleType

from pipeline.checks import Check, Context, all_checks
from pipeline.conform import MutableTables, derive, from_readings, table_modules
from pipeline.corrections import apply_corrections
from pipeline.failures import BuildError, Failure
from pipeline.guard import BROKEN, guarded
from pipeline.mutations import Mutation
from pipeline.published_rules import broken_rule, is_less_safe
from pipeline.read import RawText, check_rows, unknown_sources
from pipeline.readings import Raw, RawRow, Reading, Table
from pipeline.schema import load_raw_schemas, load_schemas

__all__ = ["Recorder", "Verdict", "Verifier"]

#: Derived tables that take long and that no check of printed cells looks at.
DEAR = ("combination", "combination_class")

#: Swaps of a word that names no value: they are errors only where something published changes.
OF_PROVENANCE = ("source swapped", "edition swapped")

#: Layers that show a change, not an error: one hand keyed or computed both sides from one reading.
SECOND = ("second keying",)

Readings = Mapping[ModuleType, list[Reading]]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the verification made of one error.

    `by` names what caught it; `counts` is false where nothing that is published changed.
    """

    caught: bool
    by: str = ""
    second_keying: bool = False
    counts: bool = True
    less_safe: bool = False


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
            recorder = Recorder(self.raw)
            self.readings[module] = list(module.conform(recorder)) if hasattr(module, "conform") else []
            for stem in recorder.asked:
                self.readers.setdefault(stem, []).append(module)
        self.said = {module: _said(found) for module, found in self.readings.items()}
        self.derivations = [
            d for m in table_modules() for d in getattr(m, "DERIVATIONS", ()) if d.table not in DEAR
        ]
        self.tables = self.make_tables(self.readings, {r.table for rs in self.readings.values() for r in rs})
        self.checks: dict[str, list[Check]] = {}
        self.hits: dict[str, int] = {}
        for check in all_checks():
            for stem in check.reads:
                self.checks.setdefault(stem, []).append(check)

    def judge(self, error: Mutation) -> Verdict:
        """Run what an error can touch, cheapest first, and say what catches it."""
        by = self._wrong_form(error)
        if by:
            return Verdict(True, by)
        try:
            changed = _Changed(self, error.stem, self._corrected(error))
        except BuildError as failed:
            return Verdict(True, failed.failures[0].check_id)
        if error.kind in OF_PROVENANCE and not changed.differs:
            return Verdict(False, counts=False)
        by = self._failed_check(changed) or self._unfit(changed)
        if by:
            return Verdict(True, by)
        again = any(guarded(c, Context(changed.raw, {})).failures for c in self._checks(error.stem, True))
        return Verdict(
            False,
            second_keying=again,
            less_safe=is_less_safe(self.tables, changed.tables, self.schemas),
        )

    def failures(self) -> list[Failure]:
        """What the checks that errors are judged by say of the true rows: nothing, if they are true."""
        found = {c.id: c for checks in self.checks.values() for c in checks}
        readings = [r for readings in self.readings.values() for r in readings]
        context = Context(self.raw, self.tables, readings)
        return [f for c in found.values() for f in guarded(c, context).failures]

    def changes_nothing(self, rewritten: Mutation) -> bool:
        """Whether rows rewritten in form only make the same readings."""
        return not _Changed(self, rewritten.stem, self._corrected(rewritten)).differs

    def _wrong_form(self, error: Mutation) -> str:
        """Form, keys, number of rows and sources: of changed rows only, where that is enough."""
        schema, true = self.raw_schemas[error.stem], self.printed[error.stem]
        pairs = [(row, was) for row, was in zip(error.rows, true, strict=False) if row is not was]
        changed = [row for row, _ in pairs]
        failures = check_rows(changed, replace(schema, rows=None)) if changed else []
        rekeyed = any(row[c] != was[c] for row, was in pairs for c in schema.primary_key)
        if not failures and (rekeyed or len(error.rows) != len(true)):
            failures = check_rows(error.rows, schema)
        if not failures:
            failures = unknown_sources({"sources": self.printed["sources"], error.stem: changed}, False)
        return failures[0].check_id if failures else ""

    def _corrected(self, error: Mutation) -> list[RawRow]:
        entries = [row for row in self.printed["corrections"] if row["file"] == error.stem]
        if not entries:
            return error.rows
        rows = {error.stem: error.rows, "corrections": entries}
        return apply_corrections(rows, self.raw_schemas)[error.stem]

    def _checks(self, stem: str, second: bool) -> list[Check]:
        """The checks of a file, those that caught most so far first."""
        found = [c for c in self.checks.get(stem, ()) if (c.layer in SECOND) == second]
        return sorted(found, key=lambda c: -self.hits.get(c.id, 0))

    def _failed_check(self, changed: _Changed) -> str:
        """The first check that fails."""
        context = Context(changed.raw, _LateTables(changed), changed)
        for check in self._checks(changed.stem, False):
            try:
                failed = bool(guarded(check, context).failures)
            except BuildError:
                failed = True
            if failed:
                self.hits[check.id] = self.hits.get(check.id, 0) + 1
                return check.id
        return ""

    def _unfit(self, changed: _Changed) -> str:
        """What the published schemas and keys say of the tables."""
        try:
            return broken_rule(self.tables, changed.tables, self.schemas)
        except BuildError as failed:
            return failed.failures[0].check_id
        except BROKEN as failed:
            return type(failed).__name__

    def make_tables(self, readings: Readings, touched: set[str]) -> MutableTables:
        """The tables that readings make; those not touched, by print or by formula, stay as they are."""
        failures: list[Failure] = []
        grown = touched
        while grown:
            grown = {d.table for d in self.derivations if touched & {i.table for i in d.inputs}} - touched
            touched = touched | grown
        wanted = (r for found in readings.values() for r in found if r.table in touched)
        made = from_readings(wanted, self.schemas, failures)
        kept = {name: t for name, t in getattr(self, "tables", {}).items() if name not in touched}
        made = {**kept, **made}
        if not failures:
            derive([d for d in self.derivations if d.table in touched], made, self.schemas, failures)
        if failures:
            raise BuildError(failures)
        return made


class _Changed:
    """What the rows of one changed file make, worked out when first asked for."""

    def __init__(self, verifier: Verifier, stem: str, rows: list[RawRow]) -> None:
        self.verifier, self.stem = verifier, stem
        self.raw: Raw = {**verifier.raw, stem: rows}

    @cached_property
    def readings(self) -> dict[ModuleType, list[Reading]]:
        again = self.verifier.readers.get(self.stem, [])
        return {
            module: list(module.conform(self.raw)) if module in again else found
            for module, found in self.verifier.readings.items()
        }

    @cached_property
    def differs(self) -> set[str]:
        """The tables of which something published differs: a value, its source or what is said of it."""
        try:
            return {
                str(place[0])
                for module in self.verifier.readers.get(self.stem, ())
                for place in _said(self.readings[module]) ^ self.verifier.said[module]
            }
        except BROKEN:
            return {"*"}

    @cached_property
    def tables(self) -> MutableTables:
        return (
            self.verifier.make_tables(self.readings, self.differs) if self.differs else self.verifier.tables
        )

    def __iter__(self) -> Iterator[Reading]:
        """The readings, for a check that asks for them."""
        return (r for found in self.readings.values() for r in found)


class _LateTables(Mapping[str, Table]):
    """The published tables for a check that asks for them; most look at printed rows only."""

    def __init__(self, changed: _Changed) -> None:
        self.changed = changed

    def __getitem__(self, name: str) -> Table:
        return self.changed.tables[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.changed.tables)

    def __len__(self) -> int:
        return len(self.changed.tables)


class Recorder(Mapping[str, list[RawRow]]):
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


def _said(readings: list[Reading]) -> set[tuple[object, ...]]:
    """What is published of readings: the values, and where they come from."""
    return {
        (r.table, r.key, r.column, r.rank, r.value, r.row.source, r.row.access, r.origin, r.note)
        for r in readings
    }
