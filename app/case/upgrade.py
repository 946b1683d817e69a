"""Reading older case files: one step per format, each turning a document into the format after it.

``fishplate-case/0`` is the draft before ``fishplate-case/1``. It had ``quality`` in place of ``bone_quality``, and one
``construct`` in place of the list ``constructs``; all else was the same. ``fishplate-case/1`` knew neither the side of
the body, nor the plate's surface, nor lines and screws that turn, nor what-ifs in the file; a note was put away by its
rule alone, whatever it was about.
"""

from collections.abc import Callable
from typing import Any

Step = Callable[[dict[str, Any]], dict[str, Any]]


def _from_draft(document: dict[str, Any]) -> dict[str, Any]:
    new = {**document, "format": "fishplate-case/1"}
    if "quality" in new:
        new["bone_quality"] = new.pop("quality")
    if "construct" in new:
        new["constructs"] = [new.pop("construct")]
    return new


def _from_first(document: dict[str, Any]) -> dict[str, Any]:
    new = _noted_by_subject({**document, "format": "fishplate-case/2"})
    constructs = new.get("constructs")
    if isinstance(constructs, list):
        new["constructs"] = [_noted_by_subject(one) if isinstance(one, dict) else one for one in constructs]
    return new


def _noted_by_subject(part: dict[str, Any]) -> dict[str, Any]:
    rules = part.get("acknowledged")
    if not isinstance(rules, list):
        return part
    return {**part, "acknowledged": [{"rule": rule, "subject": None} for rule in rules]}


STEPS: dict[str, Step] = {"fishplate-case/0": _from_draft, "fishplate-case/1": _from_first}


def upgraded(document: object) -> object:
    """A decoded JSON document in today's format; whatever isn't an older case is given back as it is."""
    while isinstance(document, dict) and isinstance(name := document.get("format"), str) and name in STEPS:
        document = STEPS[name](document)
    return document
