"""Operating logs in: readers per format, column maps per site, the store of clean readings."""

from cakewright.storage.logs.column_map import (
    Column,
    ColumnMap,
    Grain,
    parse_column_map,
    read_column_map,
    write_column_map,
)
from cakewright.storage.logs.store import (
    LoadReport,
    LogJob,
    Tally,
    load_logs,
    read_changes,
    read_month,
    read_shifts,
    read_tallies,
    stored_months,
    stored_sites,
)

__all__ = [
    "Column",
    "ColumnMap",
    "Grain",
    "LoadReport",
    "LogJob",
    "Tally",
    "load_logs",
    "parse_column_map",
    "read_changes",
    "read_column_map",
    "read_month",
    "read_shifts",
    "read_tallies",
    "stored_months",
    "stored_sites",
    "write_column_map",
]
