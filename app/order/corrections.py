"""What can still be corrected in the reduction after the screws put in so far (common practice, no source)."""

from dataclasses import dataclass
from typing import Literal

from app.geometry import Layout, Line
from app.order.progress import InsertionSequence, blocker

Room = Literal["yes", "a little", "no"]
Aspect = Literal["length", "rotation", "axis"]
ASPECTS: tuple[Aspect, ...] = ("length", "rotation", "axis")
_ROOMS: tuple[Room, ...] = ("no", "a little", "yes")


@dataclass(frozen=True, slots=True)
class Correctable:
    """Whether length, rotation and axis of the bone can still be corrected: `yes`, `a little` or `no`."""

    length: Room
    rotation: Room
    axis: Room

    def of(self, aspect: Aspect) -> Room:
        """One of the three."""
        return {"length": self.length, "rotation": self.rotation, "axis": self.axis}[aspect]


FREE = Correctable("yes", "yes", "yes")
NOTHING = Correctable("no", "no", "no")
# A plate holds both ends but not yet the piece between them, which can still be set: what one of its lines gains, the
# other loses. So too where the screws on either side are in but not tight.
PLAY = Correctable("a little", "a little", "a little")


def correctable_lines(
    layout: Layout, sequence: InsertionSequence, pending: InsertionSequence
) -> tuple[Correctable, ...]:
    """What each fracture line still allows, from proximal to distal.

    ``sequence`` are the screws put in so far, ``pending`` those still to come or still to be tightened.
    """
    compresses = layout.construct.principle == "compression"
    return tuple(_at_line(sequence, pending, line, compresses) for line in layout.fracture.lines)


def loosest(lines: tuple[Correctable, ...]) -> Correctable:
    """What the line that is held least still allows."""
    return Correctable(
        max((one.length for one in lines), key=_ROOMS.index),
        max((one.rotation for one in lines), key=_ROOMS.index),
        max((one.axis for one in lines), key=_ROOMS.index),
    )


def line_names(count: int) -> tuple[str, ...]:
    """Fracture lines in words, from proximal to distal; a single one is the line."""
    if count == 1:
        return ("line",)
    between = ("middle line",) if count == 3 else tuple(f"line {number}" for number in range(2, count))
    return "proximal line", *between, "distal line"


def room_words(lines: tuple[Correctable, ...], aspect: Aspect) -> str:
    """One aspect in words: ``no`` where it is so at every line, else ``proximal line no, distal line yes``."""
    rooms = [one.of(aspect) for one in lines]
    if len(set(rooms)) == 1:
        return rooms[0]
    return ", ".join(f"{name} {room}" for name, room in zip(line_names(len(lines)), rooms, strict=True))


def open_words(lines: tuple[Correctable, ...]) -> str:
    """What can still be corrected, in words: ``length, axis a little``; line by line where they differ."""
    if len(set(lines)) == 1:
        return _open(lines[0])
    return "; ".join(f"{name}: {_open(one)}" for name, one in zip(line_names(len(lines)), lines, strict=True))


def _open(one: Correctable) -> str:
    rooms = {aspect: one.of(aspect) for aspect in ASPECTS}
    parts = [name if room == "yes" else f"{name} a little" for name, room in rooms.items() if room != "no"]
    return ", ".join(parts) or "nothing"


def _at_line(sequence: InsertionSequence, pending: InsertionSequence, line: Line, compresses: bool) -> Correctable:
    firm = tuple(one for one in sequence if one not in pending)
    lags = sum(one.joins_line and one.line == line.index for one in firm)
    bridged = _bridged(firm, line)
    if lags and not bridged:
        # one lag holds the faces together but lets them turn about it a little
        return NOTHING if lags > 1 else Correctable("no", "a little", "a little")
    if not bridged:
        return PLAY if _bridged(sequence, line) else FREE
    if not {line.index, line.index + 1} <= _held(firm):
        return PLAY
    if lags or bridged > 1:
        return NOTHING
    whole = sequence + tuple(one for one in pending if one not in sequence)
    closing = any(one.function == "compress" and one.line == line.index and not blocker(whole, one) for one in pending)
    return Correctable("a little" if compresses and closing else "no", "no", "a little")


def _bridged(sequence: InsertionSequence, line: Line) -> int:
    """How many screws the plate has at least on either side of a line."""
    before = sum(one.on_plate and one.fragment <= line.index for one in sequence)
    behind = sum(one.on_plate and one.fragment > line.index for one in sequence)
    return min(before, behind)


def _held(sequence: InsertionSequence) -> set[int]:
    """Fragments that the plate holds, by its own screws or by a lag screw that joins them to one that it holds."""
    held = {one.fragment for one in sequence if one.on_plate}
    joined = [{one.line, one.line + 1} for one in sequence if one.joins_line]
    for _ in joined:
        for both in joined:
            held |= both if both & held else set()
    return held
