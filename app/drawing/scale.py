"""Where things go: the window along the shaft, the drawing unit, and the rows of the two views.

One user unit is 1 mm on both axes and x is ``s``. Text and strokes are sized in ``u``, a thousandth of the window, so
that a drawing looks the same at any window.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

from app.catalogue.models import PlateSeries
from app.geometry import BoneShape, Layout

MARGIN_MM = 35.0  # bone shown beyond plate and fracture
ROUND_MM = 10.0
LEAST_WINDOW_MM, MOST_WINDOW_MM = 20.0, 1000.0
MOST_MM = 2000.0
PAD_U = 20.0  # beside the window: room for break lines and rounded ends
TEXT_U = 16.0  # 11 px where the drawing is 720 px wide
TARGET_U = 36.0  # 24 px where the drawing is 720 px wide: 24 / 720 * 1040 = 34.7
FLAG_U, FLAG_ROW_U = 13.0, 32.0  # half of a flag with its edge; how far apart two rows of flags are
LETTERS_U, NEXT_U = 29.0, 36.0  # what letters take below bone and heads; how far below the bone the next text begins
SAMPLES = 48
GRIP_U = 56.0  # from the far surface to the row of grips
STRESS_U = 96.0  # height of the stress chart
TEXT_PX = 11.5  # of a drawing that knows its room; never under 11 on the screen
LEAST_BOLD, MOST_BOLD, BOLD_STEP = 0.5, 3.0, 0.05
LEAST_ROOM_PX, MOST_ROOM_PX = 120.0, 8000.0

Station = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class View:
    """The window along ``s`` that is drawn, mm.

    Raises:
        ValueError: not finite, narrower than 20 mm or wider than 1000 mm, or absurdly far off.
    """

    start_mm: float
    end_mm: float

    def __post_init__(self) -> None:
        ends = (self.start_mm, self.end_mm)
        if not all(math.isfinite(end) and abs(end) <= MOST_MM for end in ends):
            message = f"the window must lie between -{MOST_MM:.0f} and {MOST_MM:.0f} mm"
            raise ValueError(message)
        if not LEAST_WINDOW_MM <= self.end_mm - self.start_mm <= MOST_WINDOW_MM:
            message = f"the window must be {LEAST_WINDOW_MM:.0f} to {MOST_WINDOW_MM:.0f} mm wide, start before end"
            raise ValueError(message)

    @property
    def width_mm(self) -> float:
        """Width of the window, mm."""
        return self.end_mm - self.start_mm

    @property
    def unit_mm(self) -> float:
        """The drawing unit: a thousandth of the window, mm."""
        return self.width_mm / 1000

    @property
    def text(self) -> str:
        """As the drawing's ``data-view`` says it."""
        return f"{self.start_mm:g},{self.end_mm:g}"


@dataclass(frozen=True, slots=True)
class Room:
    """The room that a screen has for the drawing, CSS pixels.

    Raises:
        ValueError: not finite, or smaller or larger than any screen.
    """

    width_px: float
    height_px: float

    def __post_init__(self) -> None:
        if not all(LEAST_ROOM_PX <= size <= MOST_ROOM_PX for size in (self.width_px, self.height_px)):
            message = f"the room must be {LEAST_ROOM_PX:.0f} to {MOST_ROOM_PX:.0f} px wide and high"
            raise ValueError(message)


def fitted_view(layout: Layout) -> View:
    """The window that shows plate, fracture and separate screws with some bone on each side."""
    plate, fracture = layout.plate_ends_mm, layout.fracture.extent_mm
    beside = [s for screw in layout.screws if screw.hole is None for s in (screw.head[0], screw.tip[0])]
    low = min(plate[0], fracture[0], *beside) - MARGIN_MM
    high = max(plate[1], fracture[1], *beside) + MARGIN_MM
    length = layout.shape.length_mm
    start = math.floor(low / ROUND_MM) * ROUND_MM
    end = math.ceil(high / ROUND_MM) * ROUND_MM
    # a window that all but reaches the end of the bone takes it in: no break line for the last few millimetres
    return View(start if start > ROUND_MM else 0.0, end if end < length - ROUND_MM else length)


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """The drawing's measures, mm: unit, window, and the heights (y downwards) of the rows of both views.

    Those last made are kept, and compared by identity, so that what hangs on one can be kept by it.
    ``stations`` are ``(s, half depth, half depth of the canal, half width)`` along the bone inside the window.
    """

    view: View
    u: float
    shape: BoneShape
    stations: tuple[Station, ...]
    profile_axis: float
    face_axis: float
    plate_row: float
    span_rows: tuple[float, ...]
    grip_row: float
    face_row: float
    ruler_row: float
    height: float
    charted: bool

    @property
    def left(self) -> float:
        """Left edge of the drawing, mm along ``s``."""
        return self.view.start_mm - PAD_U * self.u

    @property
    def width(self) -> float:
        """Width of the drawing, mm."""
        return self.view.width_mm + 2 * PAD_U * self.u

    @property
    def cut(self) -> tuple[bool, bool]:
        """Whether the window cuts the bone at its start and at its end."""
        return self.view.start_mm > 1e-6, self.view.end_mm < self.shape.length_mm - 1e-6

    def up(self, y: float) -> float:
        """Drawing height of a point at ``y`` of the profile plane."""
        return self.profile_axis - y

    def near(self, s: float) -> float:
        """Drawing height of the surface under the plate."""
        return self.profile_axis - self.shape.near(s)

    def far(self, s: float) -> float:
        """Drawing height of the far surface."""
        return self.profile_axis + self.shape.near(s)


def bone_ends(view: View, shape: BoneShape) -> tuple[float, float]:
    """The stretch of bone inside the window."""
    return max(0.0, view.start_mm), min(shape.length_mm, view.end_mm)


@lru_cache(maxsize=64)
def _stations(view: View, shape: BoneShape) -> tuple[Station, ...]:
    low, high = bone_ends(view, shape)
    step = max(high - low, 0.0) / SAMPLES
    places = [low + i * step for i in range(SAMPLES + 1)]
    return tuple((s, half := shape.near(s), half - shape.cortex(s), shape.width(s) / 2) for s in places)


def frame_for(layout: Layout, view: View, grips: bool, charted: bool = False, bold: float = 1.0) -> Frame:
    """Measure out a drawing, with room for grips above and below the bone if it has them, and for the stress chart.

    ``bold`` times as large text and strokes make a drawing for those who stand far off.

    Heights depend on bone, plate, window and separate screws' heads only, so that nothing jumps while dragging.
    """
    spans, standoff = min(len(layout.fracture.lines), 2), layout.construct.plate.standoff_mm
    head = max((screw.spec.head_mm for screw in layout.screws if screw.hole is None), default=0.0)
    return _measured(view, layout.shape, layout.series, standoff, head, spans, grips, charted, bold)


def crowded(series: PlateSeries, u: float) -> bool:
    """Whether flags of neighbouring holes would meet in one row."""
    return series.pitch_mm < 2 * FLAG_U * u


def face_clearance(width_mm: float, head_mm: float, u: float) -> float:
    """How far from the axis of the face view the head of a separate screw reaches, beside a plate of this width, mm."""
    return width_mm / 2 + 3 * u + head_mm


def bold_for(layout: Layout, view: View, room: Room, grips: bool, charted: bool) -> float:
    """How many times larger than usual text must be for `TEXT_PX` on the screen, in steps that keep drawings alike.

    The drawing is shown as large as its room allows. With the factor b its width is V + 2·20·u·b and its height A + B·b
    (mm; u a thousandth of the window V), and text is 16·u·b high: each side of the room gives one equation for b.
    """
    thin, thick = (frame_for(layout, view, grips, charted, bold) for bold in (1.0, 2.0))
    unit, grows = view.unit_mm, thick.height - thin.height
    across = _bold(view.width_mm, 2 * PAD_U * unit, TEXT_U * unit * room.width_px)
    upright = _bold(thin.height - grows, grows, TEXT_U * unit * room.height_px)
    steps = math.ceil(max(across, upright) / BOLD_STEP - 1e-6)
    return min(max(steps * BOLD_STEP, LEAST_BOLD), MOST_BOLD)


def _bold(fixed_mm: float, growing_mm: float, text: float) -> float:
    """Where text·b ÷ (fixed + growing·b) is `TEXT_PX`; as bold as it gets where text can't be as large."""
    left = text - TEXT_PX * growing_mm
    return TEXT_PX * fixed_mm / left if left > 0 else MOST_BOLD


@lru_cache(maxsize=64)
def _measured(  # noqa: PLR0913 - all that a frame depends on, and nothing else of the layout
    view: View,
    shape: BoneShape,
    series: PlateSeries,
    standoff: float,
    head: float,
    spans: int,
    grips: bool,
    charted: bool,
    bold: float,
) -> Frame:
    u = view.unit_mm * bold
    stations = _stations(view, shape)
    half_depth = max(station[1] for station in stations)
    half_width = max(*(station[3] for station in stations), series.width_mm / 2)
    plate_row = 42 * u  # below the views' names, which a short plate's length would meet else
    span_rows = tuple(plate_row + 28 * u * (i + 1) for i in range(spans))
    plate_top = series.thickness_mm + standoff
    profile_axis = span_rows[-1] + (58 if grips else 34) * u + plate_top + half_depth
    grip_row = profile_axis + half_depth + (GRIP_U if grips else 22) * u
    flags = 50 + FLAG_ROW_U * crowded(series, u)  # the views' names stand over numbers and flags, and under grips
    face_axis = grip_row + (flags + 26) * u + half_width
    lettered = face_clearance(series.width_mm, head, u) + LETTERS_U * u if head else 0.0
    lowest = max(half_width, lettered - NEXT_U * u)
    ruler_row = face_axis + lowest + (STRESS_U + 64 if charted else 52) * u
    return Frame(
        view=view,
        u=u,
        shape=shape,
        stations=stations,
        profile_axis=profile_axis,
        face_axis=face_axis,
        plate_row=plate_row,
        span_rows=span_rows,
        grip_row=grip_row,
        face_row=face_axis - half_width - flags * u,
        ruler_row=ruler_row,
        height=ruler_row + 40 * u,
        charted=charted,
    )
