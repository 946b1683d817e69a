"""Marks on what a warning speaks of: a shape per level, so that colour is not needed to tell them apart."""

from functools import lru_cache

from app.drawing.scale import TARGET_U
from app.drawing.scene import Scene
from app.drawing.svg import Element, Point, Written, disc, group, loop, path, run

SIZE_U = 10.5


@lru_cache(maxsize=64)
def symbols(u: float, prefix: str) -> tuple[Element, ...]:
    """The three marks about the origin: stop a square on its tip, caution a triangle, note a disc."""
    r = SIZE_U * u
    shapes = {
        "stop": loop([(0, -1.15 * r), (1.15 * r, 0), (0, 1.15 * r), (-1.15 * r, 0)]),
        "caution": loop([(0, -1.2 * r), (1.15 * r, 0.85 * r), (-1.15 * r, 0.85 * r)]),
        "note": disc((0, 0), r),
    }
    bang = run([(0, -0.5 * r), (0, 0.12 * r)]) + run([(0, 0.5 * r), (0, 0.52 * r)])
    info = run([(0, -0.08 * r), (0, 0.52 * r)]) + run([(0, -0.52 * r), (0, -0.5 * r)])
    found = []
    for level, shape in shapes.items():
        sign = path(info if level == "note" else bang, "flag-sign", width=3 * u)
        mark = path(shape, f"flag-{level}", width=1.6 * u)
        found.append(Written([group([mark, sign], {"id": f"{prefix}flag-{level}"})]))
    return tuple(found)


def flag(scene: Scene, part: str, level: str, at: Point) -> Element:
    """One mark; pressed on a sketch, it leads to its warning."""
    mark = Element("use", {"href": f"#{scene.id(f'flag-{level}')}", "x": at[0], "y": at[1]})
    if not scene.interactive:
        return mark
    room = path(disc(at, TARGET_U / 2 * scene.frame.u), "hit", fill="none", pointer_events="all")
    return group([mark, room], {"class": "flag", "data-flag": part, "aria-hidden": "true"})


def flags(scene: Scene, places: dict[str, Point]) -> list[Element]:
    """The marks of all parts but holes, which carry theirs themselves; ``places`` are those of the parts."""
    marks = [flag(scene, part, level, places[part]) for part, level in scene.warned.items() if part in places]
    return [group(marks, {"aria-hidden": "true"})] if marks else []
