"""Edits as one kind: ``apply(case, edit)`` is pure, and the only way a case changes.

The same edits serve the mouse, the keyboard, remedies, undo and the API. Inside the program an edit is one of the
classes of ``app.case.commands``, or several ``Together``; it is JSON only where it leaves or enters
(``edit_document``, ``parse_edit``).
"""

from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, TypeAdapter, ValidationError

from app.case import fields
from app.case.commands import (
    LATE,
    Acknowledge,
    AddConstruct,
    AddLag,
    AddLine,
    CaseEdit,
    Changed,
    ConstructEdit,
    LeanFracture,
    MoveFracture,
    MovePlate,
    RemoveConstruct,
    RemoveLag,
    RemoveLine,
    ReplaceConstruct,
    SetBone,
    SetCode,
    SetGap,
    SetLag,
    SetNote,
    SetObliquity,
    SetOrder,
    SetPlate,
    SetPrebend,
    SetPrinciple,
    SetQuality,
    SetRole,
    SetSide,
    SetSpiral,
    SetStandoff,
    SetSurface,
    SetTilt,
    SetTitle,
    SetTurn,
    SetWedge,
    SetZone,
)
from app.case.faults import InvalidCase, faults_of
from app.case.models import Case, Construct, Document

__all__ = [
    "Acknowledge",
    "AddConstruct",
    "AddLag",
    "AddLine",
    "CaseEdit",
    "ConstructEdit",
    "Edit",
    "LeanFracture",
    "MoveFracture",
    "MovePlate",
    "RemoveConstruct",
    "RemoveLag",
    "RemoveLine",
    "ReplaceConstruct",
    "SetBone",
    "SetCode",
    "SetGap",
    "SetLag",
    "SetNote",
    "SetObliquity",
    "SetOrder",
    "SetPlate",
    "SetPrebend",
    "SetPrinciple",
    "SetQuality",
    "SetRole",
    "SetSide",
    "SetSpiral",
    "SetStandoff",
    "SetSurface",
    "SetTilt",
    "SetTitle",
    "SetTurn",
    "SetWedge",
    "SetZone",
    "SingleEdit",
    "Together",
    "apply",
    "edit_document",
    "parse_edit",
]


LABEL_LENGTH = 120


class Together(Document):
    """Several edits as one step, with a label a person reads."""

    model_config = LATE
    keeps_window: ClassVar[bool] = False

    op: Literal["together"] = "together"
    label: str = Field(default="", max_length=LABEL_LENGTH)
    edits: tuple["SingleEdit", ...] = Field(min_length=1, max_length=60)


SingleEdit = Annotated[
    SetTitle | SetNote | SetQuality | AddConstruct | RemoveConstruct | ReplaceConstruct | SetBone | SetCode
    | SetPrinciple | MoveFracture | SetObliquity | SetZone | AddLine | RemoveLine | SetGap | SetWedge | SetPlate
    | MovePlate | SetStandoff | SetPrebend | SetRole | SetTilt | AddLag | SetLag | RemoveLag | SetOrder
    | SetSide | SetSurface | SetTurn | SetSpiral | LeanFracture | Acknowledge,
    Field(discriminator="op"),
]  # fmt: skip
Edit = Annotated[SingleEdit | Together, Field(discriminator="op")]

_EDIT: TypeAdapter[Edit] = TypeAdapter(Edit, config=LATE)


def parse_edit(document: object) -> Edit:
    """Check a decoded JSON edit.

    Raises:
        InvalidCase: with every fault and its path.
    """
    try:
        return _EDIT.validate_python(document)
    except ValidationError as error:
        raise InvalidCase(faults_of(error)) from error


def edit_document(edit: CaseEdit | ConstructEdit | Together, *, brief: bool = False) -> dict[str, Any]:
    """The edit as JSON data that ``parse_edit`` reads: its name, and the fields that were given.

    Parts of the case are told in full; ``brief`` leaves out what is as it would be anyway.
    """
    given = (name for name in type(edit).model_fields if name in edit.model_fields_set and name != "op")
    return {"op": edit.op, **{name: _plain(getattr(edit, name), brief) for name in given}}  # type: ignore[union-attr]


def _plain(value: object, brief: bool) -> object:
    if isinstance(value, CaseEdit | ConstructEdit | Together):
        return edit_document(value, brief=brief)
    if isinstance(value, Document):
        return value.model_dump(mode="json", exclude_defaults=brief)
    return [_plain(part, brief) for part in value] if isinstance(value, tuple) else value


def apply(case: Case, edit: Edit) -> Case:
    """The case after an edit; the given one is untouched.

    Raises:
        InvalidCase: the edit names a part that isn't there, or would make the case invalid.
    """
    if isinstance(edit, Together):
        for single in edit.edits:
            case = apply(case, single)
        return case
    if isinstance(edit, CaseEdit):
        return _checked(case, edit.change(case))
    old = fields.item(case.constructs, edit.target, "constructs")
    try:
        new = Construct.model_validate({**dict(old), **edit.change(old)})
    except ValidationError as error:
        raise InvalidCase(faults_of(error, ("constructs", edit.target))) from error
    return case.model_copy(update={"constructs": fields.put(case.constructs, edit.target, new)})


def _checked(case: Case, change: Changed) -> Case:
    try:
        return Case.model_validate({**dict(case), **change})
    except ValidationError as error:
        raise InvalidCase(faults_of(error)) from error
