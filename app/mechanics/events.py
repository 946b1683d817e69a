"""What lets a figure jump between two layouts, by name: the model is continuous but for these.

A screw gains or loses a piece of bone, a lag screw starts or stops crossing the fracture, an eccentric screw comes to
push the other way, or an edge of a fracture face opens or closes.
"""

from __future__ import annotations

from collections.abc import Iterator

from app.geometry import Layout, ScrewPath
from app.geometry.fracture import ON_LINE, WEDGE, ZONE
from app.mechanics.answers import LineAnswer, MechanicsResult

CORTICES = ("near", "far")


def events(before: Layout, old: MechanicsResult, after: Layout, new: MechanicsResult) -> tuple[str, ...]:
    """Each event between two layouts in words, screws first.

    Screws that came, went or changed their role are not told: whoever did that knows. Where either layout has no
    figures, or the fracture has another number of lines, there is nothing to compare.
    """
    if old.unstable is not None or new.unstable is not None or len(old.lines) != len(new.lines):
        return ()
    earlier = {screw.id: screw for screw in before.screws}
    told: list[str] = []
    for screw in after.screws:
        was = earlier.get(screw.id)
        if was is not None and was.role == screw.role:
            told += _of_screw(was, screw)
    many = len(new.lines) > 1
    for number, (was_line, line) in enumerate(zip(old.lines, new.lines, strict=True), 1):
        told += (f"{f'line {number}, ' if many else ''}{words}" for words in _of_line(was_line, line))
    return tuple(told)


def _of_screw(was: ScrewPath, now: ScrewPath) -> Iterator[str]:
    name = f"the screw in hole {now.hole}" if now.hole is not None else f"lag screw {now.id.removeprefix('s')}"
    for place, cortex in enumerate(CORTICES):
        old, new = (_held(screw, place) for screw in (was, now))
        if old != new:
            lost, gained = (f"loses the {old} fragment" if old else ""), (f"gains the {new} fragment" if new else "")
            yield f"{name} {' and '.join(filter(None, (lost, gained)))} at the {cortex} cortex"
    if was.crosses_fracture != now.crosses_fracture and now.role == "lag":
        yield f"{name} {'starts' if now.crosses_fracture else 'stops'} crossing the fracture"
    if now.role == "eccentric" and _push(was) != _push(now):
        yield f"the eccentric screw in hole {now.hole} pushes the other way"


def _held(screw: ScrewPath, place: int) -> str | None:
    """The fragment that the screw passes at the near (0) or the far cortex (1); a wedge or a zone bears no load."""
    owner = screw.owners[place] if place < len(screw.owners) else None
    return None if owner in (WEDGE, ZONE, ON_LINE) else owner


def _push(screw: ScrewPath) -> int:
    """Which way the hole's slope moves the screw, and its fragment with it."""
    moved = screw.s_mm - screw.head[0]
    return (moved > 0) - (moved < 0)


def _of_line(was: LineAnswer, now: LineAnswer) -> Iterator[str]:
    old, new = was.interface, now.interface
    for cortex, pressed, presses, closed, closes in (
        ("near", old.near_preloaded, new.near_preloaded, old.near_closed, new.near_closed),
        ("far", old.far_preloaded, new.far_preloaded, old.far_closed, new.far_closed),
    ):
        if pressed != presses:
            yield f"the {cortex} cortex is {'now' if presses else 'no longer'} pressed by tightening"
        elif closed != closes:
            yield f"the {cortex} cortex {'touches' if closes else 'opens'} under the load"
