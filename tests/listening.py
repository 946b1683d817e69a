"""An event stream as a program reads it: WHATWG HTML, section 9.2.6, as far as our streams use it."""

import json
import queue
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import httpx


@dataclass(frozen=True)
class Event:
    kind: str
    data: Any
    id: str | None
    retry: int | None


class Stream:
    """Events as they come."""

    def __init__(self, response: httpx.Response) -> None:
        self.response = response
        self.ended = threading.Event()
        self._events: queue.Queue[Event] = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def next(self, seconds: float = 3.0) -> Event:
        return self._events.get(timeout=seconds)

    def until(self, kind: str, seconds: float = 3.0, **wanted: Any) -> Event:
        """The next event of a kind whose data holds what is wanted; what comes before is passed over."""
        while True:
            event = self.next(seconds)
            if event.kind == kind and wanted.items() <= event.data.items():
                return event

    def silent(self, seconds: float = 0.3) -> bool:
        try:
            self._events.get(timeout=seconds)
        except queue.Empty:
            return True
        return False

    def _read(self) -> None:
        fields: dict[str, str] = {}
        try:
            for line in self.response.iter_lines():
                if line:
                    name, _, value = line.partition(":")
                    fields[name] = value.removeprefix(" ")
                elif "data" in fields:
                    retry = int(fields["retry"]) if "retry" in fields else None
                    data = json.loads(fields["data"])
                    self._events.put(Event(fields.get("event", "message"), data, fields.get("id"), retry))
                    fields = {}
        except httpx.HTTPError:
            pass  # cut off: that is what some tests do
        finally:
            self.ended.set()


@contextmanager
def listening(base_url: str, path: str, headers: dict[str, str] | None = None) -> Iterator[Stream]:
    with (
        httpx.Client(base_url=base_url, timeout=10) as client,
        client.stream("GET", path, headers=headers or {}) as response,
    ):
        assert response.status_code == 200
        yield Stream(response)
