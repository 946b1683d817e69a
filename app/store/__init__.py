"""Where cases are kept: documents, their tree of revisions, and word of every change."""

from app.store.changes import GONE, Changes, Pins, Subscription, Word
from app.store.engine import open_engine
from app.store.errors import (
    BadName,
    LaterDatabase,
    NameTaken,
    NotFound,
    NothingToRedo,
    NothingToUndo,
    Stale,
    StoreError,
    Unavailable,
)
from app.store.migrate import migrate
from app.store.preview import Preview
from app.store.records import Listing, RevisionInfo, Snapshot, WhatIf
from app.store.store import Store
from app.store.watch import Watcher, watch

__all__ = [
    "GONE",
    "BadName",
    "Changes",
    "LaterDatabase",
    "Listing",
    "NameTaken",
    "NotFound",
    "NothingToRedo",
    "NothingToUndo",
    "Pins",
    "Preview",
    "RevisionInfo",
    "Snapshot",
    "Stale",
    "Store",
    "StoreError",
    "Subscription",
    "Unavailable",
    "Watcher",
    "WhatIf",
    "Word",
    "migrate",
    "open_engine",
    "watch",
]
