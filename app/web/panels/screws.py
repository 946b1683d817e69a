"""The screws panel: one row per hole, one per lag screw beside the plate."""

import math
from dataclasses import dataclass

from app.assess import ConstructAssessment, Knowledge
from app.case.edits import TILTED_ROLES
from app.case.roles import ROLE
from app.geometry import Layout, ScrewPath, ranges
from app.web.panels.controls import Action, Choice, EditDocument, Number, Option

LAG_MAX_TILT_DEG = 75.0
PROPOSED_TILT_DEG = 40.0


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
    edit: EditDocument
    tilt: Number | None
    facts: ScrewFacts


@dataclass(frozen=True, slots=True)
class LagRow:
    """One lag screw beside the plate."""

    number: int
    part: str
    place: Number
    tilt: Number
    screw: Choice
    remove: Action
    facts: ScrewFacts


@dataclass(frozen=True, slots=True)
class ScrewsView:
    """What the screws panel shows."""

    holes: tuple[HoleRow, ...]
    lags: tuple[LagRow, ...]
    add: Action | None


def screws_view(one: ConstructAssessment, knowledge: Knowledge) -> ScrewsView:
    """All rows of one construct."""
    placed = {screw.id: screw for screw in one.layout.screws}
    holes = tuple(_hole_row(one, n, placed.get(f"h{n}")) for n in range(1, len(one.construct.holes) + 1))
    lags = tuple(_lag_row(one, i, placed[f"s{i + 1}"], knowledge) for i in range(len(one.construct.lag_screws)))
    return ScrewsView(holes, lags, _add_lag(one))


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
    here: EditDocument = {"target": one.target, "hole": number - 1}
    roles = tuple(dict.fromkeys((*one.layout.series.roles(), hole.role)))
    choice = Choice(
        f"role-h{number}",
        f"Role of hole {number}",
        hole.role,
        tuple(Option(role, ROLE[role].name, None) for role in roles),
    )
    tilt = None
    if hole.role in TILTED_ROLES:
        edit: EditDocument = {"op": "set_tilt", **here}
        tilt = Number(f"tilt-h{number}", f"Tilt in hole {number}", "°", hole.tilt_deg, -45, 45, 1, edit, "tilt_deg")
    return HoleRow(number, f"h{number}", choice, {"op": "set_role", **here}, tilt, _facts(screw))


def _lag_row(one: ConstructAssessment, i: int, screw: ScrewPath, knowledge: Knowledge) -> LagRow:
    lag, name = one.construct.lag_screws[i], f"s{i + 1}"
    edit: EditDocument = {"op": "set_lag", "target": one.target, "lag": i}
    low, high = ranges(one.construct, one.layout.shape, one.layout.series).lag_screws
    kinds = tuple(
        Option(key, spec.label, {**edit, "screw": key})
        for key, spec in knowledge.catalogue.screws.items()
        if spec.kind == "cortex"
    )
    words = f"lag screw {i + 1} beside the plate"
    return LagRow(
        i + 1,
        name,
        Number(f"place-{name}", f"Entry of {words}", "mm", lag.position_mm, low, high, 1, edit, "position_mm"),
        Number(f"tilt-{name}", f"Tilt of {words}", "°", lag.tilt_deg, -75, 75, 1, edit, "tilt_deg"),
        Choice(f"kind-{name}", f"Screw for {words}", lag.screw, kinds),
        Action(f"remove-{name}", f"Remove {words}", {"op": "remove_lag", "target": one.target, "lag": i}),
        _facts(screw),
    )


def _add_lag(one: ConstructAssessment) -> Action | None:
    if len(one.construct.lag_screws) >= 6:
        return None
    value = _through_fracture(one.layout)
    return Action(
        "lag-add", "Add a lag screw beside the plate", {"op": "add_lag", "target": one.target, "value": value}
    )


def _through_fracture(layout: Layout) -> EditDocument:
    """A screw through the middle of the first line, as square to it as a drill guide comfortably leans."""
    line = layout.fracture.lines[0]
    square = 90 - abs(line.obliquity_deg)
    tilt = -math.copysign(min(square, PROPOSED_TILT_DEG), line.obliquity_deg) if line.obliquity_deg else 0.0
    start = line.position_mm - layout.shape.depth(line.position_mm) / 2 * math.tan(math.radians(tilt))
    return {"position_mm": round(start, 1), "tilt_deg": round(tilt, 1), "screw": layout.series.cortex_screw}
