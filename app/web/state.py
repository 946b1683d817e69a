"""What every route works with, made once when the server starts."""

from collections import OrderedDict
from dataclasses import dataclass, field
from threading import Lock
from typing import Annotated

from fastapi import Depends, Request

from app.assess import Assessment, Knowledge, assess, assess_stored, check_edit
from app.case import Case, Edit, apply
from app.single_flight import Joined, Shared
from app.store import Changes, Snapshot, Store
from app.web.panels.loading import Loads, loadings_of
from app.web.panels.samples import ShownSample
from app.web.templates import Pages

KEPT = 64
PICTURES, TRIALS, TOLD, KEPT_S = 256, 64, 512, 30.0


class Recent:
    """Assessments of stored versions, the last used ones: during a drag the same version is asked for many times."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: OrderedDict[tuple[str, int, Loads], Assessment] = OrderedDict()

    def of(self, snapshot: Snapshot, knowledge: Knowledge, loads: Loads = ()) -> Assessment:
        """The assessment of a stored version under the loads chosen."""
        key = (snapshot.id, snapshot.version, loads)
        with self._lock:
            found = self._kept.get(key)
            if found is not None:
                self._kept.move_to_end(key)
                return found
        return self.keep(snapshot, assess_stored(snapshot.case, knowledge, loadings_of(snapshot.case, loads)), loads)

    def keep(self, snapshot: Snapshot, assessment: Assessment, loads: Loads = ()) -> Assessment:
        """Remember what was worked out already."""
        with self._lock:
            self._kept[snapshot.id, snapshot.version, loads] = assessment
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return assessment


@dataclass(frozen=True, slots=True)
class ServerState:
    """Store, knowledge, templates and samples; who follows which case, and what they were shown."""

    store: Store
    knowledge: Knowledge
    pages: Pages
    samples: tuple[ShownSample, ...]
    recent: Recent = field(default_factory=Recent)
    changes: Changes = field(default_factory=Changes)
    painting: Joined[bytes] = field(default_factory=Joined)
    pictures: Shared[bytes] = field(default_factory=lambda: Shared(PICTURES, KEPT_S))
    trials: Shared[Assessment] = field(default_factory=lambda: Shared(TRIALS, KEPT_S))
    told: Shared[str] = field(default_factory=lambda: Shared(TOLD, KEPT_S))

    def assessed(self, snapshot: Snapshot, loads: Loads = ()) -> Assessment:
        """The assessment of a stored case, under the loads chosen or else its bones' protected presets."""
        return self.recent.of(snapshot, self.knowledge, loads)

    def judged(self, case: Case, loads: Loads = ()) -> Assessment:
        """The assessment of any case.

        Raises:
            InvalidCase: it can't be assessed.
        """
        return assess(case, self.knowledge, loadings_of(case, loads))

    def opened(self, case: Case, loads: Loads = ()) -> Assessment:
        """The assessment of a case that was accepted once, whatever the stock has become."""
        return assess_stored(case, self.knowledge, loadings_of(case, loads))

    def edited(self, before: Case, after: Case, loads: Loads = ()) -> Assessment:
        """The assessment of a case after an edit.

        Raises:
            InvalidCase: the edit brings a fault.
        """
        check_edit(before, after, self.knowledge)
        return self.opened(after, loads)

    def tried(self, snapshot: Snapshot, edit: Edit, loads: Loads = ()) -> Assessment:
        """The assessment of a stored case as an edit would make it: whoever drags and all who follow ask for the same.

        Raises:
            InvalidCase: the edit can't be made.
        """
        key = (snapshot.id, snapshot.version, edit.model_dump_json(), loads)
        return self.trials.get(key, lambda: self.edited(snapshot.case, apply(snapshot.case, edit), loads))


def _state(request: Request) -> ServerState:
    state: ServerState = request.app.state.server
    return state


StateDep = Annotated[ServerState, Depends(_state)]
