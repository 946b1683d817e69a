"""Suggested layouts as they were last found, for the map of layouts to mark: a search of its own would take long."""

from app.case.models import Construct
from app.single_flight import SingleFlightCache
from app.store import Snapshot

KEPT = 64
_FOUND: SingleFlightCache[tuple[str, int, int], tuple[Construct, ...]] = SingleFlightCache(KEPT)


def keep_suggested(snapshot: Snapshot, target: int, constructs: tuple[Construct, ...]) -> None:
    """Keep what was suggested for a construct of a case as it stands."""
    _FOUND.put((snapshot.id, snapshot.version, target), constructs)


def suggested(snapshot: Snapshot, target: int) -> tuple[Construct, ...]:
    """What was suggested; nothing where nobody has asked yet."""
    return _FOUND.peek((snapshot.id, snapshot.version, target)) or ()
