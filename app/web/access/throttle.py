"""How often the access phrase may be tried."""

import ipaddress
import math
from collections import deque
from threading import Lock

WINDOW_S = 300.0
TRIES_EACH = 10
TRIES_ALL = 100


class Tries:
    """Tries of the phrase in a sliding window, per address and in all.

    Kept in this process: with several workers each counts for itself. Never holds more than ``in_all`` entries.
    """

    def __init__(self, each: int = TRIES_EACH, in_all: int = TRIES_ALL, window_s: float = WINDOW_S) -> None:
        self._each = each
        self._in_all = in_all
        self._window_s = window_s
        self._lock = Lock()
        self._recent: deque[tuple[float, str]] = deque()

    def take(self, address: str, now_s: float) -> int:
        """Count one try; 0: go ahead, otherwise the seconds to wait, and the try doesn't count."""
        who = neighbourhood(address)
        with self._lock:
            while self._recent and self._recent[0][0] <= now_s - self._window_s:
                self._recent.popleft()
            own = [at for at, other in self._recent if other == who]
            if len(own) >= self._each:
                return self._wait(own[-self._each], now_s)
            if len(self._recent) >= self._in_all:
                return self._wait(self._recent[0][0], now_s)
            self._recent.append((now_s, who))
            return 0

    def forgive(self, address: str) -> None:
        """Forget an address's tries: it found the phrase."""
        who = neighbourhood(address)
        with self._lock:
            self._recent = deque(entry for entry in self._recent if entry[1] != who)

    def _wait(self, blocking_s: float, now_s: float) -> int:
        return max(1, math.ceil(blocking_s + self._window_s - now_s))


def neighbourhood(address: str) -> str:
    """What one person can be taken to hold: an IPv4 address, or the /64 that an IPv6 address lies in."""
    try:
        parsed = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if parsed.version == 4:
        return str(parsed)
    mapped = parsed.ipv4_mapped
    return str(mapped or ipaddress.ip_network((parsed, 64), strict=False))
