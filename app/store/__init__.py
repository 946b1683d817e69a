"""Where cases are kept: documents, their tree of revisions, and word of every change."""

from app.store.changes import GONE, Changes, Pins, Subscription, Word
from app.store.engine import open_engine
from app.store.errors import (
    BackupRefused,
    BadName,
    BadPlace,
    KeyReused,
    LaterDatabase,
    NameTaken,
    NotFound,
    NothingToRedo,
    NothingToUndo,
    Stale,
    StoreError,
    TooMany,
    Unavailable,
    Unreadable,
)
from app.store.lines import SORTS, Sort, Wanted
from app.store.migrate import migrate
from app.store.once import Once
from app.store.preview import Preview
from app.store.records import Exported, ListedBone, Listing, Page, Past, RevisionInfo, Snapshot, UnreadableCase, WhatIf
from app.store.store import Store
from app.store.transaction import WRITES, Writes
from app.store.upkeep import Upkeep
from app.store.watch import Watcher, watch

__all__ = [
    "GONE",
    "SORTS",
    "WRITES",
    "BackupRefused",
    "BadName",
    "BadPlace",
    "Changes",
    "Exported",
    "KeyReused",
    "LaterDatabase",
    "ListedBone",
    "Listing",
    "NameTaken",
    "NotFound",
    "NothingToRedo",
    "NothingToUndo",
    "Once",
    "Page",
    "Past",
    "Pins",
    "Preview",
    "RevisionInfo",
    "Snapshot",
    "Sort",
    "Stale",
    "Store",
    "StoreError",
    "Subscription",
    "TooMany",
    "Unavailable",
    "Unreadable",
    "UnreadableCase",
    "Upkeep",
    "Wanted",
    "Watcher",
    "WhatIf",
    "Word",
    "Writes",
    "migrate",
    "open_engine",
    "watch",
]
