"""Reading older case files: one step per format, each turning a document into the format after it.

``fishplate-case/0`` is the draft before ``fishplate-case/1``. It had ``quality`` in place of ``bone_quality``, and one
``construct`` in place of the list ``constructs``; all else was the same.
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


STEPS: dict[str, Step] = {"fishplate-case/0": _from_draft}


def upgraded(document: object) -> object:
    """A decoded JSON document in today's format; whatever isn't an older case is given back as it is."""
    while isinstance(document, dict) and isinstance(name := document.get("format"), str) and name in STEPS:
        document = STEPS[name](document)
    return document
