"""The one truth of a table: its schema file, and everything that is derived from it.

A file in `schemas/` is a Frictionless Table Schema with a `unit` and, for numbers, a `precision`.
From it come the DuckDB table with keys, checks and comments, the pandera schema that frames are
held against, the descriptor in the data package, and the data dictionary.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import yaml

from pipeline.forms import FORMS, Form

__all__ = ["Field", "RawField", "RawSchema", "TableSchema", "load_raw_schemas", "load_schemas"]

ROOT = Path(__file__).resolve().parent.parent
SCHEMAS = ROOT / "schemas"

#: Columns that end every raw file, whatever it prints.
PROVENANCE_COLUMNS = ("source", "locator", "access", "note")


@dataclass(frozen=True, slots=True)
class Field:
    """A column of a published table."""

    name: str
    type: str
    description: str
    unit: str = ""
    precision: tuple[int, int] | None = None
    constraints: Mapping[str, Any] | None = None
    #: The side (higher, lower) on which a wrong value would allow more than is true, or changed for words.
    less_safe: str = ""

    @property
    def rules(self) -> Mapping[str, Any]:
        """The constraints, or none."""
        return self.constraints or {}

    @property
    def required(self) -> bool:
        """Whether a null is an error."""
        return bool(self.rules.get("required"))

    @property
    def sql_type(self) -> str:
        """The column's type in DuckDB."""
        if self.type == "number":
            whole, scale = self.precision or (18, 6)
            return f"DECIMAL({whole},{scale})"
        return {"string": "VARCHAR", "integer": "INTEGER", "boolean": "BOOLEAN", "date": "DATE"}[self.type]

    @property
    def comment(self) -> str:
        """The description with the unit, as written into the database."""
        return f"{self.description} [{self.unit}]" if self.unit else self.description

    def canonical(self, value: str) -> str:
        """The published text of a value; raises ValueError where it does not fit exactly."""
        if self.type == "number":
            return _fixed(value, *(self.precision or (18, 6)))
        if self.type == "integer":
            return str(int(value))
        if self.type == "boolean":
            if value not in ("true", "false"):
                raise ValueError("true or false")
            return value
        if not value:
            raise ValueError("text that is not empty")
        return value

    def descriptor(self) -> dict[str, Any]:
        """The field of the Frictionless Table Schema."""
        out: dict[str, Any] = {"name": self.name, "type": self.type, "description": self.description}
        if self.unit:
            out["unit"] = self.unit
        if self.precision:
            out["precision"] = list(self.precision)
        if self.constraints:
            out["constraints"] = dict(self.constraints)
        return out


@dataclass(frozen=True, slots=True)
class TableSchema:
    """A published table."""

    name: str
    title: str
    description: str
    fields: tuple[Field, ...]
    primary_key: tuple[str, ...]
    foreign_keys: tuple[Mapping[str, Any], ...] = ()
    unique_keys: tuple[tuple[str, ...], ...] = ()
    checks: tuple[str, ...] = ()
    kind: str = "reference"

    def field(self, name: str) -> Field:
        """The column of that name."""
        for field in self.fields:
            if field.name == name:
                return field
        raise KeyError(f"{self.name} has no column {name}")

    @property
    def names(self) -> tuple[str, ...]:
        """The column names in order."""
        return tuple(field.name for field in self.fields)

    @property
    def data_fields(self) -> tuple[Field, ...]:
        """The columns outside the primary key."""
        return tuple(field for field in self.fields if field.name not in self.primary_key)

    def ddl(self) -> str:
        """The statements that create the table in DuckDB, with keys, checks and comments."""
        lines = [f'  "{f.name}" {f.sql_type}{" NOT NULL" if f.required else ""}' for f in self.fields]
        lines += [f"  CHECK ({text})" for f in self.fields for text in _field_checks(f)]
        lines += [f"  CHECK ({text})" for text in self.checks]
        if self.primary_key:
            lines.append(f"  PRIMARY KEY ({_names(self.primary_key)})")
        lines += [f"  UNIQUE ({_names(key)})" for key in self.unique_keys]
        lines += [
            f"  FOREIGN KEY ({_names(key['fields'])}) REFERENCES "
            f'"{key["reference"]["resource"]}" ({_names(key["reference"]["fields"])})'
            for key in self.foreign_keys
        ]
        body = ",\n".join(lines)
        comments = [f'COMMENT ON TABLE "{self.name}" IS {_quoted(self.title + ". " + self.description)};']
        comments += [
            f'COMMENT ON COLUMN "{self.name}"."{f.name}" IS {_quoted(f.comment)};' for f in self.fields
        ]
        return f'CREATE TABLE "{self.name}" (\n{body}\n);\n' + "\n".join(comments) + "\n"

    def descriptor(self) -> dict[str, Any]:
        """The Table Schema of the data package."""
        out: dict[str, Any] = {"fields": [field.descriptor() for field in self.fields]}
        if self.primary_key:
            out["primaryKey"] = list(self.primary_key)
        if self.foreign_keys:
            out["foreignKeys"] = [dict(key) for key in self.foreign_keys]
        if self.unique_keys:
            out["uniqueKeys"] = [list(key) for key in self.unique_keys]
        return out


@dataclass(frozen=True, slots=True)
class RawField:
    """A column of a raw file: what its printed text may look like."""

    name: str
    form: Form
    description: str
    unit: str = ""
    required: bool = True
    enum: tuple[str, ...] = ()
    minimum: Decimal | None = None
    maximum: Decimal | None = None

    def problem(self, text: str) -> str | None:
        """What would be right, where the text is not; else None."""
        if text == "":
            return f"a value: {self.form.expected}" if self.required else None
        if self.enum:
            return None if text in self.enum else "one of " + ", ".join(self.enum)
        if not self.form.matches(text):
            return self.form.expected
        return self._out_of_range(text)

    def _out_of_range(self, text: str) -> str | None:
        if self.minimum is None and self.maximum is None:
            return None
        number = Decimal(text)
        if self.minimum is not None and number < self.minimum:
            return f"at least {self.minimum}"
        if self.maximum is not None and number > self.maximum:
            return f"at most {self.maximum}"
        return None

    def descriptor(self) -> dict[str, Any]:
        """The field of a Frictionless Table Schema: text with a pattern."""
        constraints: dict[str, Any] = {"required": self.required}
        if self.enum:
            constraints["enum"] = list(self.enum)
        else:
            constraints["pattern"] = self.form.pattern
        return {
            "name": self.name,
            "type": "string",
            "description": self.description,
            "constraints": constraints,
        }


@dataclass(frozen=True, slots=True)
class RawSchema:
    """A raw file."""

    name: str
    title: str
    description: str
    fields: tuple[RawField, ...]
    primary_key: tuple[str, ...]
    #: How many rows the printed table has, so that a row left out or doubled is seen.
    rows: int | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The header."""
        return tuple(field.name for field in self.fields)

    def descriptor(self) -> dict[str, Any]:
        """The Frictionless Table Schema of the file."""
        return {
            "fields": [field.descriptor() for field in self.fields],
            "primaryKey": list(self.primary_key),
            "missingValues": [""],
        }


def _names(columns: tuple[str, ...] | list[str]) -> str:
    return ", ".join(f'"{column}"' for column in columns)


@lru_cache(maxsize=65536)
def _fixed(value: str, whole: int, scale: int) -> str:
    """A number at its scale; most of a hundred thousand cells say what another said before."""
    try:
        number = Decimal(value)
    except InvalidOperation:
        raise ValueError("a decimal number") from None
    exponent = number.as_tuple().exponent
    if not isinstance(exponent, int):
        raise ValueError("a decimal number")
    fixed = number.quantize(Decimal(1).scaleb(-scale))
    if fixed != number:
        raise ValueError(f"a number with at most {scale} decimals")
    if len(fixed.as_tuple().digits) > whole:
        raise ValueError(f"a number of at most {whole} digits")
    return format(fixed, "f")


def _quoted(text: str) -> str:
    return "'" + " ".join(text.split()).replace("'", "''") + "'"


def _field_checks(field: Field) -> list[str]:
    rules, name, out = field.rules, f'"{field.name}"', []
    if "enum" in rules:
        out.append(f"{name} IN ({', '.join(_quoted(str(v)) for v in rules['enum'])})")
    if "minimum" in rules:
        out.append(f"{name} >= {rules['minimum']}")
    if "maximum" in rules:
        out.append(f"{name} <= {rules['maximum']}")
    if "pattern" in rules:
        out.append(f"regexp_full_match({name}, {_quoted(rules['pattern'])})")
    if field.type == "string":
        # Null means "not known"; an empty text would be a second way to say it.
        out.append(f"{name} <> ''")
    return out


#: libyaml where PyYAML was built with it, ten times faster; both read the same safe subset.
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


def _read(path: Path) -> Any:
    return yaml.load(path.read_text("utf-8"), _LOADER)


@cache
def load_schemas(folder: Path = SCHEMAS) -> Mapping[str, TableSchema]:
    """Every published table's schema, by name."""
    found = {path.stem: _table(_read(path)) for path in sorted(folder.glob("*.yaml"))}
    for stem, schema in found.items():
        if stem != schema.name:
            raise ValueError(f"schemas/{stem}.yaml is named {schema.name}")
    return found


@cache
def load_raw_schemas(folder: Path = SCHEMAS / "raw") -> Mapping[str, RawSchema]:
    """Every raw file's schema, by stem."""
    return {path.stem: _raw(_read(path)) for path in sorted(folder.glob("*.yaml"))}


def _table(source: dict[str, Any]) -> TableSchema:
    return TableSchema(
        name=source["name"],
        title=source["title"],
        description=" ".join(source["description"].split()),
        fields=tuple(
            Field(
                name=f["name"],
                type=f["type"],
                description=" ".join(f["description"].split()),
                unit=f.get("unit", ""),
                precision=tuple(f["precision"]) if "precision" in f else None,
                constraints=f.get("constraints"),
                less_safe=f.get("less_safe", ""),
            )
            for f in source["fields"]
        ),
        primary_key=tuple(source.get("primaryKey", ())),
        foreign_keys=tuple(source.get("foreignKeys", ())),
        unique_keys=tuple(tuple(key) for key in source.get("uniqueKeys", ())),
        checks=tuple(source.get("checks", ())),
        kind=source.get("kind", "reference"),
    )


def _raw(source: dict[str, Any]) -> RawSchema:
    fields = tuple(_raw_field(f) for f in source["fields"])
    if not any(field.name == "source" for field in fields):
        fields += _provenance_fields(tuple(source.get("sources", ())))
    return RawSchema(
        name=source["name"],
        title=source["title"],
        description=" ".join(source["description"].split()),
        fields=fields,
        primary_key=tuple(source["primaryKey"]),
        rows=source.get("rows"),
    )


def _raw_field(f: dict[str, Any]) -> RawField:
    return RawField(
        name=f["name"],
        form=FORMS[f["form"]],
        description=" ".join(f.get("description", "").split()),
        unit=f.get("unit", ""),
        required=f.get("required", True),
        enum=tuple(str(v) for v in f.get("enum", ())),
        minimum=Decimal(str(f["min"])) if "min" in f else None,
        maximum=Decimal(str(f["max"])) if "max" in f else None,
    )


def _provenance_fields(sources: tuple[str, ...]) -> tuple[RawField, ...]:
    """The last columns of every raw file; `sources` are those that the table was taken from, if stated."""
    return (
        RawField("source", FORMS["code"], "Id of the source, a row of sources.csv.", enum=sources),
        RawField("locator", FORMS["text"], "Where in the source the row is printed."),
        RawField(
            "access",
            FORMS["text"],
            "How the row was seen.",
            enum=("original", "secondary", "memory", "common practice"),
        ),
        RawField("note", FORMS["text"], "What else is known of the row.", required=False),
    )
