"""Parsed cases by revision. Revisions never change, so nothing here can go stale."""

from collections import OrderedDict
from threading import Lock

from app.case import Case


class RecentCases:
    """The cases last asked for, at most ``size`` of them; safe between threads."""

    def __init__(self, size: int = 256) -> None:
        self._size = size
        self._cases: OrderedDict[int, Case] = OrderedDict()
        self._lock = Lock()

    def get(self, revision_id: int) -> Case | None:
        """The case, if it is still held."""
        with self._lock:
            case = self._cases.get(revision_id)
            if case is not None:
                self._cases.move_to_end(revision_id)
            return case

    def put(self, revision_id: int, case: Case) -> None:
        """Hold a case; the one longest unasked for makes room. Only for revisions that are committed."""
        with self._lock:
            self._cases[revision_id] = case
            self._cases.move_to_end(revision_id)
            if len(self._cases) > self._size:
                self._cases.popitem(last=False)
