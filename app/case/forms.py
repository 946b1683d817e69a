"""Edits that lack one figure: what a form control or a handle carries, and whoever works it fills in."""

from collections.abc import Hashable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from app.case.edits import CaseEdit, ConstructEdit, SingleEdit, edit_document, parse_edit
from app.case.edits import Edit as WholeEdit


@dataclass(frozen=True, slots=True)
class EditForm:
    """An edit and the dotted name of the field in it that is to be filled in."""

    edit: SingleEdit
    field: str

    @property
    def document(self) -> dict[str, Any]:
        """What is given already, as JSON data."""
        return edit_document(self.edit)

    @property
    def keeps_window(self) -> bool:
        """As of the edit."""
        return self.edit.keeps_window

    def filled(self, value: float | str | None) -> WholeEdit:
        """The whole edit.

        Raises:
            InvalidCase: no such value can be filled in.
        """
        document = self.document
        *steps, last = self.field.split(".")
        place = document
        for step in steps:
            place = place[step]
        place[last] = value
        return parse_edit(document)


def lacking(kind: type[CaseEdit | ConstructEdit], field: str, **given: Hashable) -> EditForm:
    """The form of an edit of which all is given but ``field``.

    Raises:
        TypeError: the edit has no such fields, or more of them are needed.
    """
    return _lacking(kind, field, tuple(given.items()))


# A drawing asks for the same few at every redraw: places of the parts that it has, never their figures.
@lru_cache(maxsize=1024)
def _lacking(kind: type[CaseEdit | ConstructEdit], field: str, places: tuple[tuple[str, Hashable], ...]) -> EditForm:
    given: dict[str, Any] = dict(places)
    known = kind.model_fields
    unknown = {field, *given} - set(known)
    missing = {name for name, one in known.items() if one.is_required()} - {field, *given}
    if unknown or missing:
        message = f"{kind.__name__}: no such fields: {sorted(unknown)}; missing: {sorted(missing)}"
        raise TypeError(message)
    edit: Any = kind.model_construct(**given)
    return EditForm(edit, field)
