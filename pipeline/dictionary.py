"""`python -m pipeline.dictionary`: the data dictionary, written from the schemas."""

from __future__ import annotations

import sys
from collections.abc import Mapping

from jointable.files import write_text
from pipeline.schema import ROOT, Field, TableSchema, load_schemas

__all__ = ["dictionary", "main"]

TARGET = ROOT / "docs" / "data-dictionary.md"


def dictionary(schemas: Mapping[str, TableSchema]) -> str:
    """The data dictionary as Markdown; equal schemas give equal text."""
    parts = [
        "# Data dictionary\n\nWritten from `schemas/` by `python -m pipeline.dictionary`; edit those, not this.\n",
        "Every table is published as CSV and Parquet under its name, and in `jointable.duckdb` with the same\n"
        "types, keys and descriptions.\n",
    ]
    for kind, title in (
        ("reference", "Reference tables"),
        ("template", "Form of a schedule"),
        ("evidence", "Evidence"),
    ):
        parts.append(f"## {title}\n")
        parts += [_table(s) for _, s in sorted(schemas.items()) if s.kind == kind]
    return "\n".join(parts)


def _table(schema: TableSchema) -> str:
    lines = [f"### `{schema.name}`\n", f"{schema.title}. {schema.description}\n"]
    if schema.primary_key:
        lines.append(f"Key: {', '.join(f'`{name}`' for name in schema.primary_key)}.")
    for key in schema.foreign_keys:
        fields = ", ".join(f"`{name}`" for name in key["fields"])
        lines.append(f"{fields} leads to `{key['reference']['resource']}`.")
    lines += ["", "| column | type | unit | description |", "|---|---|---|---|"]
    lines += [f"| `{f.name}` | {f.sql_type} | {f.unit} | {_words(f)} |" for f in schema.fields]
    return "\n".join(lines) + "\n"


def _words(field: Field) -> str:
    rules = [] if field.required else ["may be null"]
    if "enum" in field.rules:
        rules.append("one of " + ", ".join(str(v) for v in field.rules["enum"]))
    text = field.description + (f" ({'; '.join(rules)})" if rules else "")
    return text.replace("|", "\\|")


def main() -> int:
    """Write docs/data-dictionary.md."""
    write_text(TARGET, dictionary(load_schemas()))
    print(f"wrote {TARGET.relative_to(ROOT)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
