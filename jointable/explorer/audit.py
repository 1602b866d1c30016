"""The audit page's content: how the sources were seen, what the checks found, what remains thin."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from jointable.reference import Reference

__all__ = ["audit"]

_QUERIES = {
    "origins": "SELECT origin, access, count(*) AS values FROM cell_provenance GROUP BY ALL ORDER BY 3 DESC",
    "tables": "SELECT table_name, count(DISTINCT row_key) AS rows, count(*) AS values, "
    "count(*) FILTER (evidence = 1) AS one_piece_of_evidence, count(*) FILTER (access = 'memory') AS from_memory, "
    "min(evidence) AS least_evidence FROM cell_provenance GROUP BY 1 ORDER BY 1",
    "sources": "SELECT s.source_id, s.title, s.edition, s.year, s.publisher, s.kind, s.jurisdiction, s.licence, "
    "s.access, s.note, count(p.table_name) FILTER (p.reading = 1) AS values, "
    "count(p.table_name) FILTER (p.reading > 1) AS second_readings, "
    "string_agg(DISTINCT p.table_name, ', ' ORDER BY p.table_name) AS tables, round(avg(p.evidence), 1) AS mean_evidence "
    "FROM source s LEFT JOIN provenance p USING (source_id) GROUP BY ALL ORDER BY s.source_id",
    "checks": "SELECT c.layer, c.check_id, c.what, c.tolerance, c.reason, r.compared, r.failed, r.worst_residual, r.cells "
    "FROM check_rule c JOIN check_result r USING (check_id) ORDER BY c.layer, c.check_id",
    "score": "SELECT raw_file, kind, tried, caught, caught_with_second_keying, share, share_low, share_high, less_safe, "
    "survivors FROM error_score ORDER BY raw_file <> '*', raw_file, kind",
    "single": "SELECT table_name, column_name, count(*) AS values, min(access) AS access, "
    "list(row_key ORDER BY row_key)[1:200] AS rows FROM cell_provenance WHERE evidence = 1 AND origin <> 'derived' "
    "GROUP BY 1, 2 ORDER BY 1, 2",
    "corrections": "SELECT raw_file, raw_key, raw_column, printed_value, corrected_value, reason, evidence, source_id "
    "FROM correction ORDER BY ALL",
    "releases": "SELECT data_version, schema_version, CAST(released AS VARCHAR) AS released, note FROM release "
    "ORDER BY release.released DESC, data_version DESC",
    "changes": "SELECT data_version, table_name, row_key, column_name, old_value, new_value, kind, reason "
    "FROM value_change ORDER BY ALL LIMIT 2000",
}


def audit(reference: Reference, _: Mapping[str, Any]) -> dict[str, Any]:
    """Every list of the audit page by name, with the data version."""
    lists = {name: reference.records(query) for name, query in _QUERIES.items()}
    return {**lists, "data_version": reference.data_version}
