"""The shop's memory: append-only logs of events, and an index made from them.

It keeps events and knows no rules. docs/store-format.md describes the files on disk.
"""

from lowside.store.codec import BadEvent, event_from_json, event_to_json
from lowside.store.errors import (
    NotNowError,
    ReadOnlyError,
    StoreBusyError,
    StoreError,
    StoreStoppedError,
)
from lowside.store.event_store import EventStore
from lowside.store.following import Batch
from lowside.store.outline import Derived, Listed, Outline
from lowside.store.store import Store
from lowside.store.verdicts import Outcome, Quarantined, Receipt

__all__ = [
    "BadEvent",
    "Batch",
    "Derived",
    "EventStore",
    "Listed",
    "NotNowError",
    "Outcome",
    "Outline",
    "Quarantined",
    "ReadOnlyError",
    "Receipt",
    "Store",
    "StoreBusyError",
    "StoreError",
    "StoreStoppedError",
    "event_from_json",
    "event_to_json",
]
