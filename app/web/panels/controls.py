"""Form controls that post edits: each carries the edit, and names the field in it that it fills in."""

from dataclasses import dataclass
from typing import Any

from app.case.edits import Edit, edit_document
from app.case.forms import EditForm


@dataclass(frozen=True, slots=True)
class Number:
    """A number field, which fills in ``form``; ``empty`` says what no value means."""

    id: str
    label: str
    unit: str
    value: float | None
    low: float
    high: float
    step: float
    form: EditForm
    empty: str = ""
    kind: str = "number"

    @property
    def range_text(self) -> str:
        """The allowed range in words."""
        return f"{self.low:.4g} to {self.high:.4g} {self.unit}"


@dataclass(frozen=True, slots=True)
class Option:
    """One entry of a choice, with the edit that choosing it makes; None: it can't be chosen now.

    ``asks`` is the address, below the case's own, that tells the edit when it is chosen: of most entries nobody will.
    """

    value: str
    label: str
    edit: Edit | None
    group: str = ""
    brief: bool = False
    asks: str = ""

    @property
    def document(self) -> dict[str, Any] | None:
        """The edit as JSON data; ``brief`` leaves out of it what is as it would be anyway."""
        return None if self.edit is None else edit_document(self.edit, brief=self.brief)


@dataclass(frozen=True, slots=True)
class Choice:
    """A list to choose from."""

    id: str
    label: str
    value: str
    options: tuple[Option, ...]
    kind: str = "choice"

    @property
    def grouped(self) -> list[tuple[str, list[Option]]]:
        """The entries by the heading they stand under; those without one (empty) come first."""
        groups: dict[str, list[Option]] = {"": []}
        for option in self.options:
            groups.setdefault(option.group, []).append(option)
        return list(groups.items())


@dataclass(frozen=True, slots=True)
class Action:
    """A button that makes one edit."""

    id: str
    label: str
    edit: Edit
    kind: str = "action"


@dataclass(frozen=True, slots=True)
class Told:
    """Something that follows from what was chosen, with where it comes from."""

    id: str
    label: str
    text: str
    source: str
    kind: str = "told"


Control = Number | Choice | Action | Told


@dataclass(frozen=True, slots=True)
class Group:
    """Controls under one heading."""

    id: str
    title: str
    controls: tuple[Control, ...]
