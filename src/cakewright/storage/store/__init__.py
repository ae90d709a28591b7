"""Studies in a database: one file by default, PostgreSQL by its address; history and merging."""

from cakewright.storage.store.editing import Edit, apply_edits, changed_places, overlapping
from cakewright.storage.store.engine import default_address, open_engine
from cakewright.storage.store.records import Kept, Revision, Saved, StudyRecord
from cakewright.storage.store.studies import MAX_STUDY_BYTES, StudyStore, open_store

__all__ = [
    "MAX_STUDY_BYTES",
    "Edit",
    "Kept",
    "Revision",
    "Saved",
    "StudyRecord",
    "StudyStore",
    "apply_edits",
    "changed_places",
    "default_address",
    "open_engine",
    "open_store",
    "overlapping",
]
