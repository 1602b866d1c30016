"""What a joint is looked up by: sizes as joints count them, and the smallest class of each combination."""

from __future__ import annotations

from collections.abc import Mapping

import duckdb

from pipeline.database import SQL
from pipeline.readings import Derivation, Input, Tables
from pipeline.schema import load_schemas

__all__ = ["DERIVATIONS", "smallest_classes"]

Column = Mapping[tuple[str, ...], str | None]

#: The tables that the macro of admission reads.
_READ = ("joint_size", "connector_family", "connector_variant", "family_variant", "connector_class")


def _area(tables: Tables) -> Column:
    return {key: row["area_mm2"] for key, row in tables["conductor_size"].items()}


def _rank(tables: Tables) -> Column:
    return {key: row["rank"] for key, row in tables["conductor_size"].items()}


def _clamp_area(tables: Tables) -> Column:
    sizes, pairs = tables["conductor_size"], tables["crosswalk"]
    out: dict[tuple[str, ...], str | None] = {}
    for key, row in sizes.items():
        usual = pairs[key].get("usual_size") if key in pairs else None
        out[key] = sizes[(usual,)]["area_mm2"] if usual else row["area_mm2"]
    return out


def smallest_classes(tables: Tables) -> Column:
    """The general class of least room for each combination and family, from the one macro."""
    mixes = [key[0] for key in tables["combination"]]
    with duckdb.connect(":memory:") as connection:
        for name in _READ:
            _load(connection, name, tables)
        connection.execute((SQL / "30_joint.sql").read_text("utf-8"))
        connection.execute(_TERMS, [mixes])
        rows = connection.execute(
            "SELECT joint, family, class FROM joint_choice('joints') "
            "WHERE family <> 'crimped butt' AND series <> 'tap'"
        ).fetchall()
    return {(joint, family): name for joint, family, name in rows}


#: `2x12 AWG + 1x18 AWG` as rows of size and quantity.
_TERMS = """
CREATE TEMP TABLE joints AS
SELECT mix AS joint, split_part(term, 'x', 1)::INTEGER AS quantity, split_part(term, 'x', 2) AS size
FROM (SELECT mix, unnest(string_split(mix, ' + ')) AS term FROM (SELECT unnest(?::VARCHAR[]) AS mix))
"""


def _load(connection: duckdb.DuckDBPyConnection, name: str, tables: Tables) -> None:
    schema = load_schemas()[name]
    columns = ", ".join(f'"{f.name}" {f.sql_type}' for f in schema.fields)
    connection.execute(f'CREATE TABLE "{name}" ({columns})')
    # Whole columns at once: rows one by one take a hundred times as long.
    held = [[row.get(f.name) for row in tables[name].values()] for f in schema.fields]
    texts = ", ".join("unnest(?::VARCHAR[])" for _ in schema.fields)
    connection.execute(f'INSERT INTO "{name}" SELECT {texts}', held)


_CLASS = tuple(
    Input("connector_class", column, {"class": "class"})
    for column in ("min_total_mm2", "max_total_mm2", "min_conductor_mm2", "max_conductor_mm2", "max_conductors", "rank")
)

DERIVATIONS: tuple[Derivation, ...] = (
    Derivation(
        "joint_size",
        "rank",
        "rank of the size",
        (Input("conductor_size", "rank", {"size": "size"}),),
        _rank,
    ),
    Derivation(
        "joint_size",
        "area_mm2",
        "area of the size",
        (Input("conductor_size", "area_mm2", {"size": "size"}),),
        _area,
    ),
    Derivation(
        "joint_size",
        "clamp_mm2",
        "area of the usual metric pair, else of the size",
        (Input("crosswalk", "usual_size", {"size": "size"}), Input("conductor_size", "area_mm2", {"size": "size"})),
        _clamp_area,
    ),
    Derivation(
        "combination_class",
        "class",
        "the first general class by rank that the macro joint_choices admits, conductors of copper in their usual construction",
        (Input("combination", "total_mm2", {"conductors": "conductors"}), *_CLASS),
        smallest_classes,
    ),
)
