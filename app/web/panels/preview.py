"""Previews: what a case would be with an edit that nobody has made yet.

A request, the live line, the pictures of those who follow and the edit once it is made all ask here, and whatever one
of them has asked is worked out for none of the others a second time.
"""

import json
from dataclasses import dataclass, field, replace
from typing import Any

from app.assess import Assessment, Knowledge
from app.case import Edit, apply
from app.store import Preview, Snapshot
from app.suggest import Reach, Stop, stop_of
from app.web.panels.announce import announce
from app.web.panels.labels import label_of
from app.web.panels.loading import Loads
from app.web.panels.redraw import LIVE, LivePanel, Look, Panels, Redraw, all_panels, drawing, live_panels
from app.web.state import ServerState


@dataclass(frozen=True, slots=True)
class TriedEdit:
    """An edit and its JSON text, by which it is compared: written once, for all who need it."""

    edit: Edit = field(compare=False)
    text: str

    @classmethod
    def of(cls, edit: Edit) -> "TriedEdit":
        """The edit with its text."""
        return cls(edit, edit.model_dump_json())

    @property
    def document(self) -> dict[str, Any]:
        """The edit as a decoded JSON document."""
        document: dict[str, Any] = json.loads(self.text)
        return document


@dataclass(frozen=True, slots=True)
class Question:
    """What a page asks to see: an edit tried (None: the stored case), how it is looked at, and which panels follow.

    An edit with a ``reach`` goes as far as it can. ``stop`` is where that was, once it is known.
    """

    look: Look
    edit: TriedEdit | None = None
    panels: frozenset[LivePanel] = LIVE
    reach: Reach | None = None
    stop: Stop | None = None

    def on(self, snapshot: Snapshot, knowledge: Knowledge) -> "Question":
        """The same about the edit that can be made of the one wanted.

        Raises:
            InvalidCase: the edit has no such figure as ``reach`` says.
        """
        if self.edit is None or self.reach is None:
            return self
        edit, stop = as_far_as_it_goes(snapshot, self.edit, self.reach, knowledge)
        return replace(self, edit=edit, reach=None, stop=stop)


def as_far_as_it_goes(
    snapshot: Snapshot, edit: TriedEdit, reach: Reach | None, knowledge: Knowledge
) -> tuple[TriedEdit, Stop | None]:
    """The edit that can be made of the one wanted, and where it stops if it does.

    Raises:
        InvalidCase: the edit has no such figure as ``reach`` says.
    """
    stop = None if reach is None else stop_of(snapshot.case, edit.edit, reach, knowledge)
    return (edit, None) if stop is None else (TriedEdit.of(stop.edit), stop)


def tried(state: ServerState, snapshot: Snapshot, edit: TriedEdit, loads: Loads = ()) -> Assessment:
    """The assessment of a stored case as an edit would make it, without remedies.

    Raises:
        InvalidCase: the edit can't be made.
    """
    key = (snapshot.id, snapshot.version, edit.text, loads)
    return state.trials.get(key, lambda: state.tried(snapshot.case, apply(snapshot.case, edit.edit), loads))


def previewed(state: ServerState, snapshot: Snapshot, asked: Question, seq: int = 0, hand: str = "") -> Redraw:
    """What the page shows while an edit is tried on a stored version, and those who follow the case are told of it.

    Raises:
        InvalidCase: the edit can't be made; nobody is told of it then.
    """
    told = None
    asked = asked.on(snapshot, state.knowledge)
    if asked.edit is not None:
        tried(state, snapshot, asked.edit, asked.look.loads)
        told = asked.edit.document
    state.changes.preview(snapshot.id, Preview(snapshot.version, asked.look.construct, told, seq, hand))
    return redrawn(state, snapshot, asked, seq)


def redrawn(state: ServerState, snapshot: Snapshot, asked: Question, seq: int = 0) -> Redraw:
    """The same, and nobody is told of it.

    Raises:
        InvalidCase: the edit can't be made.
    """
    asked = asked.on(snapshot, state.knowledge)
    key = (snapshot.id, snapshot.version, asked)
    made = state.redraws.get(key, lambda: _redraw(state, snapshot, asked))
    return made.model_copy(update={"seq": seq})


def _redraw(state: ServerState, snapshot: Snapshot, asked: Question) -> Redraw:
    look = asked.look
    stored = state.assessed(snapshot, look.loads)
    if asked.edit is None:
        assessment, status = stored, ""
        panels = all_panels(state, snapshot, stored, look) if asked.panels else Panels()
    else:
        assessment = tried(state, snapshot, asked.edit, look.loads)
        status = announce(label_of(asked.edit.edit, snapshot.case), stored, assessment, asked.stop)
        panels = live_panels(state, assessment, look, earlier=stored, wanted=asked.panels)
    one = look.on(assessment)
    return Redraw(
        seq=0,
        version=snapshot.version,
        shown=one.target,
        drawing=drawing(state, one, look),
        panels=panels,
        status=status,
        reached=asked.stop and asked.stop.figure,
    )
