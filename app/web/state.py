"""What every route works with, made once when the server starts."""

from collections.abc import Hashable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated

from fastapi import Depends, Request

from app.assess import Assessment, ConstructAssessment, Knowledge, assess, assess_stored, check_edit, drawn
from app.beside import Beside
from app.case import Case
from app.single_flight import SingleFlightCache
from app.store import Changes, Snapshot, Store
from app.web.access.places import Places
from app.web.panels.loading import Loads, loadings_of
from app.web.panels.samples import ShownSample
from app.web.panels.speculation import Questions
from app.web.templates import Pages

if TYPE_CHECKING:
    from app.case.models import Construct
    from app.mechanics import Construct as Solvable
    from app.mechanics import MechanicsResult
    from app.mechanics.of_layout import Loading
    from app.web.panels.map_desk import MapDesk
    from app.web.panels.preview import Question
    from app.web.panels.redraw import Redraw

STORED, TRIALS = 64, 64
PICTURES, TOLD, PARTS, SMALL = 256, 512, 1024, 1024
DRAWN = 24  # each holds the answers of all draws
SUGGESTED = 64
REDRAWS, REDRAWN_S = 64, 1.0  # of a drag: it was, or was not, asked by then
SHOWN_S = 30.0  # what a case showed must not be shown for long after the case was deleted

PictureKey = tuple[str, int, int, str, int, int, str | None]  # case, version, construct, variant, step, times, edit


def _pictures(seconds: float) -> "SingleFlightCache[PictureKey, bytes]":
    return SingleFlightCache(PICTURES, seconds)


@dataclass(frozen=True, slots=True)
class ServerState:
    """Store, knowledge, templates and samples; who follows which case, and what was worked out.

    ``painting`` keeps nothing: it is for those who ask for the same picture of a case at the same time, whatever its
    version turns out to be; ``pictures`` keeps them by the version that they show, ``small`` those of the list by the
    construct. ``warnings`` and ``parts`` keep what panels are put together from, by all that it shows, ``answers``
    those of the mechanics over what is not known. ``maps`` answers whatever is asked about maps of layouts, and solves
    over what is not known, in a process beside this one. ``suggested`` are layouts as they were last found, by case,
    version and construct: the map marks them without a search of its own. ``following`` and ``lines`` count who has an
    event stream or a live line open.
    """

    store: Store
    knowledge: Knowledge
    pages: Pages
    samples: tuple[ShownSample, ...]
    maps: "Beside[MapDesk]"
    following: Places
    lines: Places
    changes: Changes = field(default_factory=Changes)
    stored: SingleFlightCache[tuple[str, int, Loads], Assessment] = field(
        default_factory=lambda: SingleFlightCache(STORED)
    )
    trials: SingleFlightCache[tuple[str, int, str, Loads], Assessment] = field(
        default_factory=lambda: SingleFlightCache(TRIALS)
    )
    redraws: "SingleFlightCache[tuple[str, int, Question], Redraw]" = field(
        default_factory=lambda: SingleFlightCache(REDRAWS, REDRAWN_S)
    )
    pictures: SingleFlightCache[PictureKey, bytes] = field(default_factory=lambda: _pictures(SHOWN_S))
    painting: SingleFlightCache[PictureKey, bytes] = field(default_factory=lambda: _pictures(0.0))
    warnings: SingleFlightCache[tuple[object, ...], str] = field(default_factory=lambda: SingleFlightCache(TOLD))
    small: SingleFlightCache[str, str] = field(default_factory=lambda: SingleFlightCache(SMALL))
    parts: SingleFlightCache[Hashable, str] = field(default_factory=lambda: SingleFlightCache(PARTS))
    answers: "SingleFlightCache[tuple[Construct, str, Loading | None], tuple[MechanicsResult, ...]]" = field(
        default_factory=lambda: SingleFlightCache(DRAWN)
    )
    suggested: "SingleFlightCache[tuple[str, int, int], tuple[Construct, ...]]" = field(
        default_factory=lambda: SingleFlightCache(SUGGESTED)
    )
    questions: Questions = field(default_factory=Questions)

    def drawn(self, one: ConstructAssessment) -> "tuple[MechanicsResult, ...]":
        """The mechanics of a construct over what is not known."""
        key = (one.construct, one.layout.quality.key, one.loading)
        return self.answers.get(key, lambda: drawn(one, self.knowledge.catalogue, self._solved))

    def _solved(self, construct: "Solvable") -> "tuple[MechanicsResult, ...]":
        """In the process beside this one: two dozen solutions would hold up whoever edits meanwhile."""
        from app.web.panels.map_desk import MapDesk

        return self.maps.call(MapDesk.solved, construct)

    def assessed(self, snapshot: Snapshot, loads: Loads = ()) -> Assessment:
        """The assessment of a stored case, under the loads chosen or else its bones' protected presets."""
        key = (snapshot.id, snapshot.version, loads)
        return self.stored.get(key, lambda: self.opened(snapshot.case, loads))

    def judged(self, case: Case, loads: Loads = ()) -> Assessment:
        """The assessment of any case.

        Raises:
            InvalidCase: it can't be assessed.
        """
        return assess(case, self.knowledge, loadings_of(case, loads))

    def opened(self, case: Case, loads: Loads = ()) -> Assessment:
        """The assessment of a case that was accepted once, whatever the stock has become."""
        return assess_stored(case, self.knowledge, loadings_of(case, loads))

    def tried(self, before: Case, after: Case, loads: Loads = ()) -> Assessment:
        """The assessment of a case as an edit would make it, without remedies: nobody presses one while a hand moves.

        Raises:
            InvalidCase: the edit brings a fault.
        """
        check_edit(before, after, self.knowledge)
        return assess_stored(after, self.knowledge, loadings_of(after, loads), remedies=False)


def map_desk(knowledge: Knowledge) -> "MapDesk":
    """The desk that answers about maps; numpy and the solver load with it, and a start does without."""
    from app.web.panels.map_desk import MapDesk

    return MapDesk(knowledge)


def _state(request: Request) -> ServerState:
    state: ServerState = request.app.state.server
    return state


StateDep = Annotated[ServerState, Depends(_state)]
