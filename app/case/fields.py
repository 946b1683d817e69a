"""Replacing one part of a frozen document."""

from collections.abc import Sequence
from typing import Any, TypeVar

from app.case.faults import Fault, InvalidCase
from app.case.models import Construct

T = TypeVar("T")


def refuse(path: str, message: str) -> InvalidCase:
    """An error with one fault."""
    return InvalidCase((Fault(path, message),))


def item(parts: Sequence[T], index: int, name: str) -> T:
    """The part at ``index``.

    Raises:
        InvalidCase: there is none; the message says which there are.
    """
    if not 0 <= index < len(parts):
        have = f"0 to {len(parts) - 1}" if parts else "none"
        raise refuse(f"{name}.{index}", f"no such entry; there are {have}")
    return parts[index]


def put(parts: tuple[T, ...], index: int, new: T) -> tuple[T, ...]:
    """The parts with one exchanged."""
    return (*parts[:index], new, *parts[index + 1 :])


def without(parts: tuple[T, ...], index: int, name: str) -> tuple[T, ...]:
    """The parts with one left out."""
    item(parts, index, name)
    return (*parts[:index], *parts[index + 1 :])


def line_with(construct: Construct, line: int, **change: object) -> dict[str, Any]:
    """The construct's fracture with one line changed."""
    lines = construct.fracture.lines
    new = item(lines, line, "fracture.lines").model_copy(update=change)
    return fracture_with(construct, lines=put(lines, line, new))


def fracture_with(construct: Construct, **change: object) -> dict[str, Any]:
    """The construct's fracture with some fields changed."""
    return {"fracture": construct.fracture.model_copy(update=change)}


def plate_with(construct: Construct, **change: object) -> dict[str, Any]:
    """The construct's plate with some fields changed."""
    return {"plate": construct.plate.model_copy(update=change)}


def with_order(construct: Construct, **change: Any) -> dict[str, Any]:
    """A change of screws: those gone leave the order, new ones join its end."""
    if construct.order is None:
        return change
    placed = construct.model_copy(update=change).screw_ids
    kept = tuple(name for name in construct.order if name in placed)
    return {**change, "order": (*kept, *(name for name in placed if name not in kept))}


def renumbered(name: str, removed: int) -> str:
    """A lag screw's id after lag screw number ``removed`` has gone."""
    number = int(name[1:])
    return f"s{number - 1}" if name[0] == "s" and number > removed else name
