"""The screws panel: one row per hole, one per independent lag screw."""

from dataclasses import dataclass

from app.assess import Assessment, ConstructAssessment, Knowledge
from app.case.commands import TILTED_ROLES
from app.case.edits import AddLag, RemoveLag, SetLag, SetRole, SetTilt
from app.case.forms import EditForm, lacking
from app.case.roles import ROLE
from app.geometry import ScrewPath, ranges
from app.suggest import lag_place, no_lag_place
from app.web.panels.controls import Action, Choice, Number, Option


@dataclass(frozen=True, slots=True)
class ScrewFacts:
    """What to take from the tray; texts, empty where no screw is placed."""

    length: str = ""
    stocked: str = ""
    drill: str = ""
    cortices: str = ""


@dataclass(frozen=True, slots=True)
class HoleRow:
    """One hole: its number, its role as a choice, its tilt where the screw can lean."""

    number: int
    part: str
    role: Choice
    form: EditForm
    tilt: Number | None
    facts: ScrewFacts


@dataclass(frozen=True, slots=True)
class LagRow:
    """One independent lag screw."""

    number: int
    part: str
    place: Number
    tilt: Number
    turn: Number
    screw: Choice
    remove: Action
    facts: ScrewFacts


@dataclass(frozen=True, slots=True)
class MoreLags:
    """The line under the tables: a button that looks for a place for an independent lag screw, or what was found.

    ``add`` is the button that adds the screw; ``no_place`` says why there is none. With neither, nobody has looked.
    """

    add: Action | None = None
    no_place: str = ""

    @property
    def told(self) -> str:
        """What was found, as a sentence."""
        if self.add is None or not isinstance(self.add.edit, AddLag):
            return self.no_place
        lag = self.add.edit.value
        place = f"entering at {lag.position_mm:.0f} mm, tilt {lag.tilt_deg:.0f}°"
        if lag.turn_deg:
            place += f", turned {lag.turn_deg:.0f}°"
        return f"There is a place for an independent lag screw, {place}."


@dataclass(frozen=True, slots=True)
class ScrewsView:
    """What the screws panel shows; ``target`` is the construct's number."""

    target: int
    holes: tuple[HoleRow, ...]
    lags: tuple[LagRow, ...]
    more: MoreLags


def screws_view(assessment: Assessment, one: ConstructAssessment, knowledge: Knowledge) -> ScrewsView:
    """All rows of one construct."""
    placed = {screw.id: screw for screw in one.layout.screws}
    holes = tuple(_hole_row(one, n, placed.get(f"h{n}")) for n in range(1, len(one.construct.holes) + 1))
    lags = tuple(_lag_row(one, i, placed[f"s{i + 1}"], knowledge) for i in range(len(one.construct.lag_screws)))
    return ScrewsView(one.target, holes, lags, MoreLags(no_place=no_lag_place(assessment, one.target, knowledge)))


def more_lags(assessment: Assessment, one: ConstructAssessment, knowledge: Knowledge) -> MoreLags:
    """What the search for a place finds: it takes longer than a redraw, so only who asks for a screw waits for it."""
    place = lag_place(assessment, one.target, knowledge)
    add = None if place.edit is None else Action("lag-add", "Add an independent lag screw", place.edit)
    return MoreLags(add, place.why)


def _facts(screw: ScrewPath | None) -> ScrewFacts:
    if screw is None:
        return ScrewFacts()
    spec = screw.spec
    gliding = spec.gliding_drill_mm if screw.role == "lag" else None
    drill = f"{spec.thread_drill_mm:g}" if gliding is None else f"{gliding:g} near, {spec.thread_drill_mm:g} far"
    stocked = "none made" if screw.stock_length_mm is None else f"{screw.stock_length_mm:g}"
    return ScrewFacts(f"{screw.length_mm:.1f}", stocked, drill, _cortices(screw))


def _cortices(screw: ScrewPath) -> str:
    """How many cortices hold and whose they are, as short as it can be said."""
    owners = set(screw.owners)
    if len(owners) == 1 and screw.cortices_held == len(screw.passages):
        return f"{screw.cortices_held} {owners.pop()}"
    told = [
        f"{passage.cortex}: glides" if passage.gliding else f"{passage.cortex}: {passage.owner}"
        for passage in screw.passages
    ]
    return f"{screw.cortices_held} ({', '.join(told)})"


def _hole_row(one: ConstructAssessment, number: int, screw: ScrewPath | None) -> HoleRow:
    hole = one.construct.holes[number - 1]
    here = {"target": one.target, "hole": number - 1}
    roles = tuple(dict.fromkeys((*one.layout.series.roles(), hole.role)))
    choice = Choice(
        f"role-h{number}",
        f"Role of hole {number}",
        hole.role,
        tuple(Option(role, ROLE[role].name, None) for role in roles),
    )
    tilt = None
    if hole.role in TILTED_ROLES:
        form = lacking(SetTilt, "tilt_deg", **here)
        tilt = Number(f"tilt-h{number}", f"Tilt in hole {number}", "°", hole.tilt_deg, -45, 45, 1, form)
    return HoleRow(number, f"h{number}", choice, lacking(SetRole, "role", **here), tilt, _facts(screw))


def _lag_row(one: ConstructAssessment, i: int, screw: ScrewPath, knowledge: Knowledge) -> LagRow:
    lag, name = one.construct.lag_screws[i], f"s{i + 1}"
    here = {"target": one.target, "lag": i}
    low, high = ranges(one.construct, one.layout.shape, one.layout.series).lag_screws
    kinds = tuple(
        Option(key, spec.label, SetLag(**here, screw=key))
        for key, spec in knowledge.catalogue.screws.items()
        if spec.kind == "cortex"
    )
    place, tilt, turn = (lacking(SetLag, name, **here) for name in ("position_mm", "tilt_deg", "turn_deg"))
    words = f"independent lag screw {i + 1}"
    return LagRow(
        i + 1,
        name,
        Number(f"place-{name}", f"Entry of {words}", "mm", lag.position_mm, low, high, 1, place),
        Number(f"tilt-{name}", f"Tilt of {words}", "°", lag.tilt_deg, -75, 75, 1, tilt),
        Number(f"turn-{name}", f"Turn of {words} about the shaft", "°", lag.turn_deg, -180, 180, 1, turn),
        Choice(f"kind-{name}", f"Screw for {words}", lag.screw, kinds),
        Action(f"remove-{name}", f"Remove {words}", RemoveLag(**here)),
        _facts(screw),
    )
