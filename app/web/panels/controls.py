"""Form controls that post edits: each carries the edit, and names the field in it that it fills in."""

from dataclasses import dataclass
from typing import Any

EditDocument = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Number:
    """A number field. ``field`` is the dotted place of its value in ``edit``; ``empty`` says what no value means."""

    id: str
    label: str
    unit: str
    value: float | None
    low: float
    high: float
    step: float
    edit: EditDocument
    field: str
    empty: str = ""
    kind: str = "number"

    @property
    def range_text(self) -> str:
        """The allowed range in words."""
        return f"{self.low:.4g} to {self.high:.4g} {self.unit}"


@dataclass(frozen=True, slots=True)
class Option:
    """One entry of a choice, with the edit that choosing it makes; None: it can't be chosen now."""

    value: str
    label: str
    edit: EditDocument | None
    group: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """A list to choose from."""

    id: str
    label: str
    value: str
    options: tuple[Option, ...]
    kind: str = "choice"


@dataclass(frozen=True, slots=True)
class Action:
    """A button that makes one edit."""

    id: str
    label: str
    edit: EditDocument
    kind: str = "action"


Control = Number | Choice | Action


@dataclass(frozen=True, slots=True)
class Group:
    """Controls under one heading."""

    id: str
    title: str
    controls: tuple[Control, ...]
