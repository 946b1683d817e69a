"""What surfaces and edges are called, in small words outside the bone: two in the profile, two in the face view.

They stand at the end of the view where more of the bone is in sight beyond the plate, and give way to all else.
"""

from collections.abc import Callable, Iterator, Sequence

from app.drawing.boxes import Box, around, overlap
from app.drawing.face_labels import FRAME_U, LETTER_U, NUMBER_U, beside_height, face_labels
from app.drawing.placement import AIR_U, ASCENT_U, DESCENT_U, Placement, hand, text_box
from app.drawing.scale import FLAG_U, TEXT_U
from app.drawing.scene import Scene
from app.drawing.screws import axis_of, end_mm
from app.drawing.svg import Attrs, Element, Point, group, label
from app.drawing.typeface import text_width

ROWS_U = (0.0, 17.0)  # how much further out than its own row a word may go
INSET_U = 12.0  # from the end of the window, where a break line may be
STEP_U = 8.0  # from one place that is tried to the next
LOOKS = 5  # places along a word, or the plate, at which the bone is looked at

Half = Callable[[float], float]


def surface_names(scene: Scene, placed: Placement) -> list[Element]:
    """The surface under the plate and the one opposite, in the profile."""
    seen, frame = scene.layout.facing, scene.frame
    taken = [*placed.taken, _plate(scene), *_screws(scene)]
    return _written(scene, "surfaces", (seen.surface, seen.far), taken, frame.profile_axis, frame.shape.near)


def edge_names(scene: Scene, grips: Sequence[Box] = ()) -> list[Element]:
    """The edges of the bone at the top and the bottom of the face view; of a right bone where no side is said.

    ``grips`` are the boxes of grips in this view.
    """
    seen, frame, width = scene.layout.facing, scene.frame, scene.layout.series.width_mm
    start, end = scene.layout.plate_ends_mm
    said = "" if seen.said else " if right"

    def half(s: float) -> float:
        return max(frame.shape.width(s), width if start <= s <= end else 0.0) / 2

    words = seen.top + said, seen.bottom + said
    return _written(scene, "edges", words, [*_of_holes(scene), *grips], frame.face_axis, half)


def _written(
    scene: Scene, name: str, words: tuple[str, str], taken: list[Box], axis: float, half: Half
) -> list[Element]:
    """The words above and below the bone, about the axis of one view; a word without a free place is left out."""
    places = ((text, _place(scene, text, way, taken, axis, half)) for text, way in zip(words, (-1, 1), strict=True))
    drawn = [
        label(text, at, "soft halo", text_anchor="middle", stroke_width=3 * scene.frame.u)
        for text, at in places
        if at is not None
    ]
    attrs: Attrs = {"id": scene.id(name), "aria-hidden": "true"}
    return [group(drawn, attrs)]


def _place(scene: Scene, text: str, way: int, taken: list[Box], axis: float, half: Half) -> Point | None:
    """The middle of a word on its baseline: as near to the end of the view as it is clear of all else."""
    u = scene.frame.u
    wide, air = text_width(text, TEXT_U * u) / 2, AIR_U * u
    for out in ROWS_U:
        for x in _ways(scene, wide):
            looked = (x - wide + 2 * wide * n / (LOOKS - 1) for n in range(LOOKS))
            rise = max(half(s) for s in looked) + (out + (NUMBER_U if way < 0 else LETTER_U)) * u
            at = x, axis + way * rise
            left, top, right, bottom = text_box(text, at, "middle", u)
            if not any(overlap((left - air, top, right + air, bottom), box) for box in taken):
                return at
    return None


def _ways(scene: Scene, wide: float) -> Iterator[float]:
    """Middles for something so wide to each side, from the end of the view inwards."""
    frame, u, (start, end) = scene.frame, scene.frame.u, scene.layout.plate_ends_mm
    beyond = (frame.view.end_mm - end) - (start - frame.view.start_mm)
    side = hand(scene) if abs(beyond) < u else (1 if beyond > 0 else -1)
    room = frame.view.width_mm - 2 * (INSET_U * u + wide)
    first = (frame.view.end_mm if side > 0 else frame.view.start_mm) - side * (INSET_U * u + wide)
    for n in range(int(room / (STEP_U * u)) + 1 if room > 0 else 0):
        yield first - side * n * STEP_U * u


def _plate(scene: Scene) -> Box:
    """The plate edge-on."""
    start, end = scene.layout.plate_ends_mm
    off = scene.construct.plate.standoff_mm
    places = [start + (end - start) * n / (LOOKS - 1) for n in range(LOOKS)]
    top = min(scene.frame.near(s) - off - scene.raised(s) for s in places) - scene.layout.series.thickness_mm
    return start, top, end, scene.frame.profile_axis


def _screws(scene: Scene) -> Iterator[Box]:
    """The screws from head to tip."""
    for screw in scene.layout.screws:
        axis, r = axis_of(scene, screw), screw.spec.head_mm / 2
        (x1, y1), (x2, y2) = axis.at(-r, 0), axis.at(end_mm(scene, screw), 0)
        yield min(x1, x2) - r, min(y1, y2) - r, max(x1, x2) + r, max(y1, y2) + r


def _of_holes(scene: Scene) -> Iterator[Box]:
    """Numbers, letters and flags of the holes, and the heads and names of separate screws."""
    u, found, layout = scene.frame.u, face_labels(scene), scene.layout
    widest = str(len(layout.holes))  # for all numbers, so that words lie mirrored where the construct does
    for place, labels in zip(layout.holes, found.holes, strict=True):
        if labels.numbered:
            yield text_box(widest, (place.s_mm, labels.top), "middle", u, strong=True)
        if labels.flag is not None:
            yield around(*labels.flag, FLAG_U * u)
        letter = labels.bottom - ASCENT_U * u - AIR_U * u, labels.bottom + DESCENT_U * u
        yield place.s_mm - FRAME_U * u, letter[0], place.s_mm + FRAME_U * u, letter[1]
    for screw in layout.screws:
        if screw.hole is None:
            yield around(screw.head[0], beside_height(scene, screw), screw.spec.head_mm / 2 + u)
            yield text_box(screw.id, found.names[screw.id], "middle", u)
