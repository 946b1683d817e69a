"""What every part of a drawing is given: the assessed construct, its frame, and which parts are warned of."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import lru_cache
from itertools import count
from typing import TYPE_CHECKING

from app.case.models import Construct
from app.drawing.scale import Frame
from app.drawing.svg import Attrs
from app.geometry import Layout
from app.rules import left_open

if TYPE_CHECKING:
    from app.assess import ConstructAssessment

GRAVEST = {"note": 0, "caution": 1, "stop": 2}


_NUMBERS = count()


@lru_cache(maxsize=64)
def _number(*_parts: Hashable) -> int:
    return next(_NUMBERS)


def as_planned(_s: float) -> float:
    """A plate that lies where it was planned."""
    return 0.0


@dataclass(frozen=True, slots=True)
class Scene:
    """One drawing in the making. ``prefix`` keeps ids apart where several drawings share a file.

    ``raised`` tells how far above its planned place the plate's underside lies at ``s``, mm; ``bends`` are where it
    turns sharply.
    """

    one: "ConstructAssessment"
    frame: Frame
    interactive: bool
    prefix: str
    warned: dict[str, str]
    raised: Callable[[float], float] = as_planned
    bends: tuple[float, ...] = ()

    @property
    def layout(self) -> Layout:
        """The construct laid on its bone."""
        return self.one.layout

    @property
    def construct(self) -> Construct:
        """The construct as the user wrote it."""
        return self.one.layout.construct

    def id(self, name: str) -> str:
        """An id of this drawing."""
        return self.prefix + name

    def fill(self, pattern: str) -> str:
        """A reference to a hatch."""
        return f"url(#{self.prefix}{pattern})"

    def still(self) -> int:
        """A number for what stays while a fracture or a screw is dragged: bone, window, plate and way of drawing.

        How far the plate is ``raised`` is not among it.
        """
        return _number(
            self.frame,
            self.layout.series,
            self.construct.plate,
            self.prefix,
            self.interactive,
            self.one.target,
        )

    def part(self, name: str, class_: str) -> Attrs:
        """Attributes of something that a warning can speak of: its name, and the level if one does."""
        level = self.warned.get(name)
        return {"data-part": name, "class": class_ if level is None else f"{class_} warned-{level}"}


def warned_parts(one: "ConstructAssessment") -> dict[str, str]:
    """The gravest level of warning on each part; notes that were put away mark nothing."""
    levels: dict[str, str] = {}
    for warning in left_open(one.warnings):
        for part in warning.subject:
            if GRAVEST[warning.level] >= GRAVEST.get(levels.get(part, "note"), 0):
                levels[part] = warning.level
    return levels
