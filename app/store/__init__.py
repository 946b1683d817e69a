"""Where cases are kept: documents, their tree of revisions, and word of every change."""

from app.store.changes import GONE, Changes, Subscription
from app.store.engine import open_engine
from app.store.errors import LaterDatabase, NotFound, NothingToRedo, NothingToUndo, Stale, StoreError, Unavailable
from app.store.migrate import migrate
from app.store.records import Listing, RevisionInfo, Snapshot
from app.store.store import Store
from app.store.watch import Watcher, watch

__all__ = [
    "GONE",
    "Changes",
    "LaterDatabase",
    "Listing",
    "NotFound",
    "NothingToRedo",
    "NothingToUndo",
    "RevisionInfo",
    "Snapshot",
    "Stale",
    "Store",
    "StoreError",
    "Subscription",
    "Unavailable",
    "Watcher",
    "migrate",
    "open_engine",
    "watch",
]
