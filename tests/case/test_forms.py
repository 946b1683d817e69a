"""Edits as the browser gets them: forms that lack a figure, and documents that carry their name."""

import json
import re
from typing import get_args

import pytest
from pydantic import TypeAdapter

from app.case import InvalidCase, parse_edit
from app.case.edits import Edit, SetBone, SetRole, SetTilt, SingleEdit, Together, edit_document
from app.case.forms import EditForm, lacking
from app.case.models import Bone
from app.shipped import folder

CLASSES = (*get_args(get_args(SingleEdit)[0]), Together)
OPS = [kind.model_fields["op"].default for kind in CLASSES]


def test_a_form_is_filled_in() -> None:
    form = lacking(SetRole, "role", target=1, hole=2)
    assert form.document == {"op": "set_role", "target": 1, "hole": 2}
    assert form.filled("lag") == SetRole(target=1, hole=2, role="lag")
    bone = EditForm(SetBone(bone=Bone(name="ulna")), "bone.length_mm")
    assert bone.filled(250.0) == SetBone(bone=Bone(name="ulna", length_mm=250.0))
    with pytest.raises(InvalidCase):
        form.filled("glue")


@pytest.mark.parametrize("given", [{"hole": 1, "hale": 2}, {}])
def test_a_form_knows_the_fields_of_its_edit(given: dict[str, int]) -> None:
    with pytest.raises(TypeError, match="SetTilt"):
        lacking(SetTilt, "tilt_deg", **given)


def test_a_document_names_its_edit_and_what_was_given() -> None:
    edit = Together(label="Two", edits=(SetRole(target=0, hole=2, role="empty"), SetTilt(hole=1, tilt_deg=3)))
    document = edit_document(edit)
    assert document == {
        "op": "together",
        "label": "Two",
        "edits": [
            {"op": "set_role", "target": 0, "hole": 2, "role": "empty"},
            {"op": "set_tilt", "hole": 1, "tilt_deg": 3.0},
        ],
    }
    assert parse_edit(json.loads(json.dumps(document))) == edit


def test_the_schema_asks_for_the_name_of_every_edit() -> None:
    defined = TypeAdapter(Edit).json_schema()["$defs"]
    for kind, op in zip(CLASSES, OPS, strict=True):
        assert "op" in defined[kind.__name__]["required"]
        assert defined[kind.__name__]["properties"]["op"]["const"] == op
        assert "default" not in defined[kind.__name__]["properties"]["op"]
    with pytest.raises(InvalidCase):
        parse_edit({"hole": 1, "role": "lag"})


def test_no_name_of_an_edit_stands_in_the_browsers_code() -> None:
    scripts = list(folder("static").joinpath("js").rglob("*.js"))
    assert len(scripts) > 10
    names = re.compile(rf"[\"'`]({'|'.join(OPS)})[\"'`]")
    assert [(script.name, names.findall(text)) for script in scripts if names.search(text := script.read_text())] == []
