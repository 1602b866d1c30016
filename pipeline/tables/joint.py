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
_READ = ("joint_size", "connector_variant", "offered_class")


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


def _offered(tables: Tables) -> dict[tuple[str, ...], dict[str, str | None]]:
    """Each class of each family under each variant asked for, with what the family takes."""
    families, variants = tables["connector_family"], tables["connector_variant"]
    most = str(max(int(str(row["planned_degc"])) for row in variants.values()))
    by_kind: dict[tuple[str, str], list[tuple[str, ...]]] = {}
    for key, row in tables["connector_class"].items():
        by_kind.setdefault((str(row["family"]), str(row["variant"])), []).append(key)
    out: dict[tuple[str, ...], dict[str, str | None]] = {}
    for (wanted,), variant in variants.items():
        for (family,), facts in families.items():
            made = (family, wanted) in tables["family_variant"]
            opens = str(facts["reopenable"]) if variant["reopenable"] != "no" else "no"
            taken = {f"{c}_taken": facts[c] for c in ("solid", "stranded", "flexible")}
            for key in by_kind[(family, wanted if made else "general")]:
                own = tables["connector_class"][key]
                out[(wanted, *key)] = {
                    **{column: own[column] for column in _OF_CLASS},
                    **taken,
                    "reopens": opens,
                    "greatest_voltage_v": facts["greatest_voltage_v"],
                    "most_degc": most,
                    "is_made": "true" if made else "false",
                }
    return out


def _offer(column: str) -> Derivation:
    """One column of offered_class; its formula says which table it is taken from."""
    formula, inputs = _OFFER.get(column, (f"{column} of the class", (_of_class(column),)))
    return Derivation(
        "offered_class", column, formula, inputs, lambda t: {k: r[column] for k, r in _offered(t).items()}
    )


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


def _of_class(column: str) -> Input:
    return Input("connector_class", column, {"class": "class"})


_OF_CLASS = (
    "family", "series", "size", "ways", "grip", "variant", "min_total_mm2", "max_total_mm2", "min_conductor_mm2",
    "max_conductor_mm2", "over_run_mm2", "min_conductors", "max_conductors", "room_cm3", "rank",
)  # fmt: skip


def _of_family(column: str) -> tuple[str, tuple[Input, ...]]:
    return f"{column} of the family", (Input("connector_family", column, {"family": "family"}),)


_MADE = Input("family_variant", "made_as", {"family": "family", "variant": "wanted"})

_OFFER: Mapping[str, tuple[str, tuple[Input, ...]]] = {
    "solid_taken": _of_family("solid"),
    "stranded_taken": _of_family("stranded"),
    "flexible_taken": _of_family("flexible"),
    "greatest_voltage_v": _of_family("greatest_voltage_v"),
    "reopens": (
        "no where the variant says no, else as the family",
        (
            *_of_family("reopenable")[1],
            Input("connector_variant", "reopenable", {"variant": "wanted"}),
        ),
    ),
    "most_degc": (
        "greatest planned temperature of all variants",
        (Input("connector_variant", "planned_degc"),),
    ),
    "is_made": ("whether the family has a row for the variant asked for", (_MADE,)),
}

#: A size that the key of the combination names.
_NAMED = "regexp_matches(r.conductors, '(^|\\+ )[0-9]x' || i.size || '($| \\+)')"

_CLASS = tuple(
    Input("offered_class", column, {"class": "class", "wanted": "=general"})
    for column in (*_OF_CLASS, *_OFFER)
)
_SIZES = tuple(Input("joint_size", column, condition=_NAMED) for column in ("rank", "area_mm2", "clamp_mm2"))

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
        (
            Input("crosswalk", "usual_size", {"size": "size"}),
            Input("conductor_size", "area_mm2", {"size": "size"}),
        ),
        _clamp_area,
    ),
    *(_offer(column) for column in (*_OF_CLASS, *_OFFER)),
    Derivation(
        "combination_class",
        "class",
        "the first general class by rank that the macro joint_choices admits, conductors of copper in their usual construction",
        (Input("combination", "total_mm2", {"conductors": "conductors"}), *_SIZES, *_CLASS),
        smallest_classes,
    ),
)
