"""How the data are cited and found: CITATION.cff and the schema.org/Croissant description, written by release."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import yaml

from pipeline.package import LICENCE
from pipeline.schema import Field, TableSchema

__all__ = ["citation", "dataset"]

TITLE = "Jointable: reference tables of conductors, generic connector size classes and box volumes"
ABSTRACT = (
    "Conductors, insulation, cables, boxes, volume allowances and counting rules of several codes, generic size "
    "classes of splicing connectors, each value with its source, and a library that answers from them. For planning "
    "and teaching."
)
KEYWORDS = ("electrical", "conductors", "box fill", "splicing connectors", "reference data", "provenance")

_CONTEXT: dict[str, Any] = {
    "@language": "en",
    "@vocab": "https://schema.org/",
    "citeAs": "cr:citeAs",
    "column": "cr:column",
    "conformsTo": "dct:conformsTo",
    "cr": "http://mlcommons.org/croissant/",
    "data": {"@id": "cr:data", "@type": "@json"},
    "dataType": {"@id": "cr:dataType", "@type": "@vocab"},
    "dct": "http://purl.org/dc/terms/",
    "extract": "cr:extract",
    "field": "cr:field",
    "fileObject": "cr:fileObject",
    "key": "cr:key",
    "md5": "cr:md5",
    "recordSet": "cr:recordSet",
    "references": "cr:references",
    "sc": "https://schema.org/",
    "source": "cr:source",
}
_TYPES = {
    "string": "sc:Text",
    "integer": "sc:Integer",
    "number": "sc:Float",
    "boolean": "sc:Boolean",
    "date": "sc:Date",
}


def citation(data_version: str, library_version: str, released: str) -> str:
    """CITATION.cff of one release (Citation File Format 1.2.0).

    Args:
        data_version: Version of the data by calendar.
        library_version: Version of the library.
        released: Day of the release, YYYY-MM-DD.

    Returns:
        YAML text.
    """
    return yaml.safe_dump(
        {
            "cff-version": "1.2.0",
            "message": "Please cite the data version that an answer states.",
            "title": TITLE,
            "abstract": ABSTRACT,
            "type": "dataset",
            "authors": [{"name": "The contributors of Jointable"}],
            "version": data_version,
            "date-released": released,
            "license": [LICENCE["name"], "MIT"],
            "keywords": list(KEYWORDS),
            "references": [
                {
                    "type": "software",
                    "title": "jointable, the library",
                    "authors": [{"name": "The contributors of Jointable"}],
                    "version": library_version,
                    "license": "MIT",
                }
            ],
        },
        sort_keys=False,
        allow_unicode=True,
        width=100,
    )


def dataset(package: Mapping[str, Any], schemas: Mapping[str, TableSchema], released: str) -> dict[str, Any]:
    """The description of the published data as schema.org Dataset and Croissant 1.0.

    Args:
        package: The content of datapackage.json.
        schemas: The published schemas.
        released: Day of the release, YYYY-MM-DD.

    Returns:
        A JSON-LD document.
    """
    resources = {r["name"]: r for r in package["resources"]}
    return {
        "@context": _CONTEXT,
        "@type": "sc:Dataset",
        "conformsTo": "http://mlcommons.org/croissant/1.0",
        "name": "jointable",
        "alternateName": TITLE,
        "description": package["description"],
        "version": package["version"],
        "datePublished": released,
        "license": LICENCE["path"],
        "keywords": list(KEYWORDS),
        "citeAs": f"{TITLE}, data {package['version']}",
        "isBasedOn": [{"@type": "CreativeWork", "name": s["title"]} for s in package["sources"]],
        "variableMeasured": _variables(schemas),
        "distribution": [_file(resources[name]) for name in sorted(resources)],
        "recordSet": [_records(schemas[name]) for name in sorted(resources)],
    }


def _file(resource: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "@type": "cr:FileObject",
        "@id": f"{resource['name']}.csv",
        "name": f"{resource['name']}.csv",
        "description": resource["title"],
        "contentUrl": resource["path"],
        "encodingFormat": "text/csv",
        "contentSize": f"{resource['bytes']} B",
        "sha256": resource["hash"].removeprefix("sha256:"),
    }


def _records(schema: TableSchema) -> dict[str, Any]:
    leads = {
        column: (str(key["reference"]["resource"]), str(other))
        for key in schema.foreign_keys
        for column, other in zip(key["fields"], key["reference"]["fields"], strict=True)
        if key["reference"]["resource"]
    }
    record: dict[str, Any] = {
        "@type": "cr:RecordSet",
        "@id": schema.name,
        "name": schema.name,
        "description": f"{schema.title}. {schema.description}",
    }
    if schema.primary_key:
        record["key"] = [{"@id": f"{schema.name}/{name}"} for name in schema.primary_key]
    record["field"] = [_field(schema.name, f, leads.get(f.name)) for f in schema.fields]
    return record


def _field(table: str, field: Field, leads: tuple[str, str] | None) -> dict[str, Any]:
    out: dict[str, Any] = {
        "@type": "cr:Field",
        "@id": f"{table}/{field.name}",
        "name": field.name,
        "description": field.description + (f" [{field.unit}]" if field.unit else ""),
        "dataType": _TYPES[field.type],
        "source": {"fileObject": {"@id": f"{table}.csv"}, "extract": {"column": field.name}},
    }
    if leads:
        out["references"] = {"field": {"@id": "/".join(leads)}}
    return out


def _variables(schemas: Mapping[str, TableSchema]) -> list[dict[str, Any]]:
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
