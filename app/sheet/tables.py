"""The sheet's tables as rows of words: holes, order, tools, warnings. Lengths in mm."""

import re
from typing import TYPE_CHECKING, Any

from app.case.roles import ROLE
from app.geometry import Layout, ScrewPath
from app.order import Step, ToolList, plan
from app.order.contour import SEEN_FROM_DEG, bend_words
from app.order.corrections import room_words
from app.order.roles import placed_screws
from app.order.steps import COUNTERSINK, TAP_LIMIT, drills_for, is_countersunk, tap_words

if TYPE_CHECKING:
    from app.rules import Warning as Warned

_BY_HAND = re.compile(r"(, slowly, one click)?[,;] last turns by hand$")  # the sheet says it once, under the order


def hole_rows(layout: Layout) -> list[list[str]]:
    """Hole, role, screw, length (measured and stocked), drill, and what it holds; independent lag screws at the end."""
    by_hole = {screw.hole: screw for screw in layout.screws if screw.hole is not None}
    rows = []
    for place in layout.holes:
        screw = by_hole.get(place.number)
        if screw is None:
            note = "over the fracture" if place.line is not None else ""
            rows.append([str(place.number), ROLE["empty"].brief, "", "", "", note])
        else:
            rows.append(_screw_row(layout, str(place.number), screw))
    return rows + [_screw_row(layout, f"S{s.id[1:]}", s) for s in layout.screws if s.hole is None]


def _screw_row(layout: Layout, name: str, screw: ScrewPath) -> list[str]:
    one = placed_screws(layout)[screw.id]
    drills = ", ".join(f"{drill.diameter_mm:g}" for drill in drills_for(one))
    stock = "none made" if screw.stock_length_mm is None else f"{screw.stock_length_mm:g}"
    return [
        name,
        ROLE[screw.role].brief,
        screw.spec.label.removesuffix(" screw").replace(" mm ", " "),
        f"{stock} ({screw.length_mm:.1f})",
        drills,
        f"{_holds(screw)}; countersink" if is_countersunk(one) else _holds(screw),
    ]


def _holds(screw: ScrewPath) -> str:
    held = [passage.owner for passage in screw.passages if passage.holds]
    if not held:
        return "nothing"
    parts = [f"{held.count(owner)} {owner}" for owner in dict.fromkeys(held)]
    return ", ".join(parts)


def order_rows(layout: Layout) -> list[dict[str, str]]:
    """The steps up to the last screw, each with its figures and what it still lets correct; ``check_rows`` follow."""
    return [_order_row(step) for step in plan(layout) if step.kind != "check"]


def _order_row(step: Step) -> dict[str, str]:
    return {
        "number": str(step.number),
        "what": step.what,
        "how": _how(step),
        "length": _room(room_words(step.lines, "length")),
        "rotation": _room(room_words(step.lines, "rotation")),
        "axis": _room(room_words(step.lines, "axis")),
    }


def _room(room: str) -> str:
    return room.replace("a little", "little").replace(" line ", " ")


def _how(step: Step) -> str:
    parts = [f"{drill.guide} {drill.diameter_mm:g}" for drill in step.drills]
    if parts:
        parts = ["drill " + ", then ".join(parts)]
    if step.countersink:
        parts.append(COUNTERSINK)
    if step.depth_mm is not None:
        parts.append(f"depth {step.depth_mm:.0f}")
    if step.tap_mm is not None:
        parts.append(tap_words(step.tap_mm).removesuffix(f", {TAP_LIMIT}"))  # said once, under the order
    if step.kind == "insert":
        parts.append("no length made" if step.stock_length_mm is None else f"screw {step.stock_length_mm:g}")
    if step.bends:
        parts.append(bend_words(step.bends) or f"no two neighbouring holes by {SEEN_FROM_DEG:g}° or more")
    if step.tightness:
        parts.append(_BY_HAND.sub("", step.tightness))
    return "; ".join(parts).replace(" N·m", "\u00a0N·m")


def tool_rows(tools: ToolList) -> list[list[str]]:
    """Group and contents."""
    groups = [
        ("Plate", [_times(item.count, item.name) for item in tools.plates]),
        ("Screws", _screws(tools)),
        ("Drills", [item.name.removeprefix("drill bit ") for item in tools.drills]),
        ("Guides", [item.name for item in tools.sleeves]),
        ("Taps", [item.name.removeprefix("tap ") for item in tools.taps]),
        ("Drivers", [item.name.removeprefix("driver, ") for item in tools.drivers]),
        ("Also", [_times(item.count, item.name) for item in tools.instruments]),
    ]
    return [[name, "; ".join(parts).replace(" N·m", "\u00a0N·m")] for name, parts in groups if parts]


def _screws(tools: ToolList) -> list[str]:
    kinds: dict[str, list[str]] = {}
    for item in tools.screws:
        length = "longer than any made" if item.length_mm is None else f"{item.length_mm:g} mm"
        spares = f" (spare {', '.join(f'{mm:g}' for mm in item.spares_mm)})" if item.spares_mm else ""
        kinds.setdefault(item.label, []).append(f"{item.count} × {length}{spares}")
    return [f"{label} {', '.join(lengths)}" for label, lengths in kinds.items()]


def _times(count: int, name: str) -> str:
    return name if count == 1 else f"{count} × {name}"


def warning_rows(warnings: "tuple[Warned, ...]") -> list[dict[str, Any]]:
    """Rule, level and message of the warnings given."""
    return [{"rule": warning.rule, "level": warning.level, "message": warning.message} for warning in warnings]
