"""How often the access phrase may be tried."""

import ipaddress
import math
from collections import deque
from collections.abc import Iterable
from threading import Lock

WINDOW_S = 300.0
TRIES_EACH = 10
TRIES_ALL = 100
OF_KNOWN = "known:"


class Tries:
    """Tries of the phrase in a sliding window, per address and in all.

    A machine that is ``known``, since the phrase was given from it before,
    has tries of its own: nobody else's can keep it out, and the limit in all is not for it.
    """

    def __init__(self, each: int = TRIES_EACH, in_all: int = TRIES_ALL, window_s: float = WINDOW_S) -> None:
        self._each = each
        self._in_all = in_all
        self._window_s = window_s
        self._lock = Lock()
        self._recent: deque[tuple[float, str]] = deque()

    @property
    def recent(self) -> tuple[tuple[float, str], ...]:
        """The tries that count, the oldest first: when, and whose."""
        with self._lock:
            return tuple(self._recent)

    @recent.setter
    def recent(self, entries: Iterable[tuple[float, str]]) -> None:
        with self._lock:
            self._recent = deque(sorted(entries))

    def take(self, address: str, now_s: float, known: str | None = None) -> int:
        """Count one try; 0: go ahead, otherwise the seconds to wait, and the try doesn't count."""
        who = whose(address, known)
        with self._lock:
            in_time = (entry for entry in self._recent if now_s - self._window_s < entry[0] <= now_s + self._window_s)
            self._recent = deque(in_time)  # a clock that was put back must not keep anybody out for long
            own = [at for at, other in self._recent if other == who]
            if len(own) >= self._each:
                return self._wait(own[-self._each], now_s)
            others = [at for at, other in self._recent if not other.startswith(OF_KNOWN)]
            if known is None and len(others) >= self._in_all:
                return self._wait(others[0], now_s)
            self._recent.append((now_s, who))
            return 0

    def forgive(self, address: str, known: str | None = None) -> None:
        """Forget whose tries these are: the phrase was found."""
        who = whose(address, known)
        with self._lock:
            self._recent = deque(entry for entry in self._recent if entry[1] != who)

    def _wait(self, blocking_s: float, now_s: float) -> int:
        return max(1, math.ceil(blocking_s + self._window_s - now_s))


def whose(address: str, known: str | None) -> str:
    """Under what a try counts."""
    return neighbourhood(address) if known is None else f"{OF_KNOWN}{known}"


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
