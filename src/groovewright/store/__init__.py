"""The record: jobs as append-only events in a database, found again, handed on, backed up."""

from groovewright.store.backup import back_up, restore
from groovewright.store.catalogue import CatalogueReport, import_catalogue
from groovewright.store.exporting import export_text
from groovewright.store.forget import Forgotten, forget_customer
from groovewright.store.header import Header
from groovewright.store.importing import ImportReport, import_text
from groovewright.store.kept_job import ConflictError, KeptEvent, KeptJob, NoJobError
from groovewright.store.listing import ListedJob, Page, list_jobs, search, stylus_due
from groovewright.store.log import (
    append,
    append_all,
    go_back,
    new_job,
    read_job,
    read_log,
    read_since,
)
from groovewright.store.opening import Store, open_store
from groovewright.store.place import default_place
from groovewright.store.suggest import Suggestion, remembered, suggest

__all__ = [
    "CatalogueReport",
    "ConflictError",
    "Forgotten",
    "Header",
    "ImportReport",
    "KeptEvent",
    "KeptJob",
    "ListedJob",
    "NoJobError",
    "Page",
    "Store",
    "Suggestion",
    "append",
    "append_all",
    "back_up",
    "default_place",
    "export_text",
    "forget_customer",
    "go_back",
    "import_catalogue",
    "import_text",
    "list_jobs",
    "new_job",
    "open_store",
    "read_job",
    "read_log",
    "read_since",
    "remembered",
    "restore",
    "search",
    "stylus_due",
    "suggest",
]
