"""The answer to a write that is kept already: it depends on the write, not on whether the result can be shown."""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from app.assess import Assessment
from app.store import Snapshot
from app.suggest import Stop
from app.web.panels.announce import announce
from app.web.panels.redraw import Look, Panels, Redraw, all_panels, drawing
from app.web.state import ServerState

Part = TypeVar("Part")
log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Write:
    """What was written, in words; the assessment before it, if anybody knows; whether a screw was taken out.

    ``stop``: where it stopped on its way, if it did.
    """

    label: str
    before: Callable[[], Assessment] | None = None
    removed: bool = False
    stop: Stop | None = None


class Parts:
    """Makes the parts of an answer, and remembers which could not be made."""

    def __init__(self) -> None:
        self.lost: list[str] = []

    def make(self, name: str, make: Callable[[], Part]) -> Part | None:
        """The part; None where making it fails, in whatever way."""
        try:
            return make()
        except Exception:
            log.exception("a write was kept, but of the answer to it this could not be made: %s", name)
            self.lost.append(name)
            return None


def answer(state: ServerState, saved: Snapshot, write: Write, look: Look, seq: int) -> Redraw:
    """What changes on the page after a write. What can't be made is left as it was, and the sentence says so.

    Args:
        state: what every route works with.
        saved: the document as the write left it.
        write: what was written.
        look: what of the case the page shows.
        seq: the request's sequence number.
    """
    parts = Parts()
    after = parts.make("the construct’s assessment", lambda: state.assessed(saved, look.loads))
    before = None if write.before is None else parts.make("what was before", write.before)
    picture, panels, status = None, None, None
    if after is not None:
        lost = before if write.removed else None
        picture = parts.make("the drawing", lambda: drawing(state, look.on(after), look))
        panels = parts.make("the figures", lambda: all_panels(state, saved, after, look, lost, before))
        if before is not None:
            status = parts.make("what changed", lambda: announce(write.label, before, after, write.stop))
    return Redraw(
        seq=seq,
        version=saved.version,
        shown=look.construct if after is None else look.on(after).target,
        drawing=picture or "",
        panels=panels or Panels(),
        reached=write.stop and write.stop.figure,
        status=_lacking(write.label, saved.version, parts.lost) if parts.lost else status or f"{write.label}.",
    )


def _lacking(label: str, version: int, lost: list[str]) -> str:
    return (
        f"{label}: kept as version {version}, but {' and '.join(lost)} can’t be shown here. "
        "Reload the page; if that doesn’t help, undo."
    )
