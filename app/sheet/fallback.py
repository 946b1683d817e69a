"""What to have ready and do if a screw strips, the reduction is lost, or the plan doesn't fit what is found.

Standing: common practice, no source; a locking screw that is put back is driven by hand with its torque limiter: AO
Surgery Reference, proximal tibia. Implants are those of the stock list that fit this plate; nothing else is named.
"""

from collections.abc import Iterator

from app.catalogue import Catalogue
from app.geometry import Layout, Line
from app.order import order_of
from app.order.corrections import line_names
from app.order.roles import Placed, placed_screws
from app.rules.edits import holes
from app.sheet.bridging import bridge_words, longer_plates, other_plate
from app.sheet.stripped import locking_screw, rescue_parts, stripped_words


def fallback_rows(layout: Layout, catalogue: Catalogue) -> list[list[str]]:
    """What goes wrong, and what is done: rows of two, in words; empty without screws."""
    if not layout.screws:
        return []
    rows = [
        ["Have ready", _ready(layout, catalogue)],
        ["A screw strips", stripped_words(layout, catalogue)],
        ["Reduction lost", _lost(layout)],
        ["Hold too weak", _longer(layout)],
    ]
    if layout.construct.principle != "bridging":
        rows.append(["Can’t compress", bridge_words(layout, catalogue)])
    return rows


def _ready(layout: Layout, catalogue: Catalogue) -> str:
    parts = rescue_parts(layout, catalogue)
    kinds = {screw.spec.kind for screw in layout.screws if screw.hole is not None}
    if kinds == {"locking"}:
        parts.append(f"{catalogue.screws[layout.series.cortex_screw].label}s")
    lock = locking_screw(layout, catalogue)
    if lock is not None and not any(screw.spec.key == lock.key for screw in layout.screws):
        parts.append(f"{lock.label}s with their limiter")
    parts += [f"the plate with {count} holes, {length:.0f} mm" for count, length in longer_plates(layout)[:1]]
    other = "" if layout.construct.principle == "bridging" else other_plate(layout, catalogue)
    parts += [f"to bridge: {other}"] if other else []
    return _sentence("; ".join(parts)) if parts else "Nothing in stock beyond the plan."


def _lost(layout: Layout) -> str:
    names = line_names(len(layout.fracture.lines))
    screws = placed_screws(layout)
    sequence = tuple(screws[name] for name in order_of(layout))
    told = list(_lost_lines(layout, sequence, names))
    again = "Reduce and hold again, then go on in the planned order."
    if any(one.function == "lock" for one in sequence):
        again += " A locking screw is taken out, not only loosened, and put back slowly by hand with its limiter."
    return " ".join([*told, again])


def _lost_lines(layout: Layout, sequence: tuple[Placed, ...], names: tuple[str, ...]) -> Iterator[str]:
    for line, name in zip(layout.fracture.lines, names, strict=True):
        loose = loosened(layout, sequence, line)
        numbers = sorted(one.screw.hole for one in loose if one.screw.hole is not None and one.on_plate)
        lags = [one for one in loose if one.function == "lag"]
        if not numbers:
            continue
        fragment = layout.fracture.fragments[next(one.fragment for one in loose if one.on_plate)].name
        where = "" if len(names) == 1 else f"At the {name} "
        verb = "loosen" if where else "Loosen"
        first = f"{_lag_words(lags)}, then the {fragment} side" if lags else f"the {fragment} side"
        yield f"{where}{verb} {first}, {holes(numbers)}; leave the other side as it is."


def _lag_words(lags: list[Placed]) -> str:
    names = [f"hole {one.screw.hole}" if one.screw.hole is not None else f"S{one.id[1:]}" for one in lags]
    return f"the lag screw{'s' if len(lags) > 1 else ''} ({', '.join(names)})"


def loosened(layout: Layout, sequence: tuple[Placed, ...], line: Line) -> tuple[Placed, ...]:
    """Screws to loosen where the reduction of a line is lost: lags that join it, and the plate's on the side held last.

    A fragment at an end of the bone is let go rather than one between two lines.
    """
    inner = range(1, len(layout.fracture.fragments) - 1)
    sides = [side for side in (line.index, line.index + 1) if any(one.fragment == side for one in _plate(sequence))]
    if not sides:
        return ()
    start = {side: next(i for i, one in enumerate(sequence) if one.on_plate and one.fragment == side) for side in sides}
    let_go = max(sides, key=lambda side: (side not in inner, start[side]))
    lags = tuple(one for one in sequence if one.joins_line and one.line == line.index)
    return lags + tuple(one for one in _plate(sequence) if one.fragment == let_go)


def _plate(sequence: tuple[Placed, ...]) -> tuple[Placed, ...]:
    return tuple(one for one in sequence if one.on_plate)


def _longer(layout: Layout) -> str:
    found = longer_plates(layout)
    if not found:
        return "No longer plate of this kind is made that the bone has room for: fill free holes, or change the plate."
    sizes = " or ".join(f"{count} holes ({length:.0f} mm)" for count, length in found)
    return f"A longer plate, {sizes}, before more screws in a short one."


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
