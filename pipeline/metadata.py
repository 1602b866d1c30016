"""What tells others of the data: a Croissant description (schema.org Dataset) and the citation file."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pipeline.package import LICENCE
from pipeline.schema import Field, TableSchema

__all__ = ["citation", "croissant"]

TITLE = "Jointable reference tables"
ABOUT = (
    "Conductors, generic connector size classes and box volumes, each value with its source. "
    "For planning and teaching; the connector's own listing, the local code and the authority "
    "having jurisdiction decide."
)
KEYWORDS = ("electrical conductors", "splicing connectors", "box fill", "reference data", "provenance")

_TYPES = {
    # Croissant knows no decimals; the exact figures are in the files.
    "number": "sc:Float",
    "integer": "sc:Integer",
    "boolean": "sc:Boolean",
    "date": "sc:Date",
    "string": "sc:Text",
}

_CONTEXT = {
    "@language": "en",
    "@vocab": "https://schema.org/",
    "cr": "http://mlcommons.org/croissant/",
    "citeAs": "cr:citeAs",
    "column": "cr:column",
    "conformsTo": "dct:conformsTo",
    "data": {"@id": "cr:data", "@type": "@json"},
    "dataType": {"@id": "cr:dataType", "@type": "@vocab"},
    "dct": "http://purl.org/dc/terms/",
    "examples": {"@id": "cr:examples", "@type": "@json"},
    "extract": "cr:extract",
    "field": "cr:field",
    "fileObject": "cr:fileObject",
    "fileProperty": "cr:fileProperty",
    "fileSet": "cr:fileSet",
    "format": "cr:format",
    "includes": "cr:includes",
    "isLiveDataset": "cr:isLiveDataset",
    "jsonPath": "cr:jsonPath",
    "key": "cr:key",
    "md5": "cr:md5",
    "parentField": "cr:parentField",
    "path": "cr:path",
    "recordSet": "cr:recordSet",
    "references": "cr:references",
    "regex": "cr:regex",
    "repeated": "cr:repeated",
    "replace": "cr:replace",
    "samplingRate": "cr:samplingRate",
    "sc": "https://schema.org/",
    "separator": "cr:separator",
    "source": "cr:source",
    "subField": "cr:subField",
    "transform": "cr:transform",
}


def croissant(
    folder: Path, schemas: Mapping[str, TableSchema], version: str, released: str
) -> dict[str, Any]:
    """The content of croissant.json: a schema.org Dataset with Croissant's files and record sets.

    Args:
        folder: Where the CSV files are.
        schemas: The published schemas.
        version: The data version.
        released: Day of the release, ISO 8601.

    Returns:
        JSON-LD, ready for JSON.
    """
    return {
        "@context": _CONTEXT,
        "@type": "sc:Dataset",
        "conformsTo": "http://mlcommons.org/croissant/1.0",
        "name": "jointable",
        "description": ABOUT,
        "license": LICENCE["path"],
        "version": version,
        "datePublished": released,
        "creator": {"@type": "Organization", "name": "the Jointable authors"},
        "citeAs": f"The Jointable authors. {TITLE}, data {version}, {released}.",
        "isAccessibleForFree": True,
        "isLiveDataset": False,
        "keywords": list(KEYWORDS),
        "variableMeasured": _measured(schemas),
        "distribution": [_file(folder / f"{name}.csv") for name in sorted(schemas)],
        "recordSet": [_record_set(schemas[name]) for name in sorted(schemas)],
    }


def _measured(schemas: Mapping[str, TableSchema]) -> list[dict[str, str]]:
    """The columns of the reference tables that carry a unit."""
    return [
        {
            "@type": "PropertyValue",
            "name": f"{name}.{f.name}",
            "description": f.description,
            "unitText": f.unit,
        }
        for name, schema in sorted(schemas.items())
        if schema.kind == "reference"
        for f in schema.fields
        if f.unit
    ]


def _file(path: Path) -> dict[str, Any]:
    data = path.read_bytes()
    return {
        "@type": "cr:FileObject",
        "@id": path.name,
        "name": path.name,
        "contentUrl": path.name,
        "contentSize": f"{len(data)} B",
        "encodingFormat": "text/csv",
        "sha256": hashlib.sha256(data).hexdigest(),
    }


def _record_set(schema: TableSchema) -> dict[str, Any]:
    out: dict[str, Any] = {
        "@type": "cr:RecordSet",
        "@id": schema.name,
        "name": schema.name,
        "description": f"{schema.title}. {schema.description}",
        "field": [_field(schema.name, f) for f in schema.fields],
    }
    if schema.primary_key:
        out["key"] = [{"@id": f"{schema.name}/{name}"} for name in schema.primary_key]
    return out


def _field(table: str, f: Field) -> dict[str, Any]:
    return {
        "@type": "cr:Field",
        "@id": f"{table}/{f.name}",
        "name": f"{table}/{f.name}",
        "description": f.description + (f" [{f.unit}]" if f.unit else ""),
        "dataType": _TYPES[f.type],
        "source": {"fileObject": {"@id": f"{table}.csv"}, "extract": {"column": f.name}},
    }


def citation(data_version: str, library_version: str, released: str) -> str:
    """The content of CITATION.cff (Citation File Format 1.2.0).

    Args:
        data_version: The data version, by which the data are cited.
        library_version: The version of the library released with it.
        released: Day of the release, ISO 8601.

    Returns:
        YAML; equal arguments give equal text.
    """
    keywords = "".join(f"  - {word}\n" for word in KEYWORDS)
    return (
        "# Written by `python -m pipeline.release`; edit that, not this.\n"
        "cff-version: 1.2.0\n"
        'message: "If you use these tables, please cite them with their data version."\n'
        "type: dataset\n"
        f'title: "{TITLE}"\n'
        f'abstract: "{ABOUT}"\n'
        "authors:\n"
        '  - name: "The Jointable authors"\n'
        f'version: "{data_version}"\n'
        f"date-released: {released}\n"
        f"license: {LICENCE['name']}\n"
        f"keywords:\n{keywords}"
        "references:\n"
        "  - type: software\n"
        '    title: "jointable"\n'
        f'    version: "{library_version}"\n'
        "    authors:\n"
        '      - name: "The Jointable authors"\n'
        "    license: MIT\n"
    )
