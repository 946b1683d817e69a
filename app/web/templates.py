"""Templates, compiled once."""

import json
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from app.case.edits import edit_document
from app.shipped import folder
from app.web.panels.labels import under_its_words
from app.wording import capitalised

LEVEL_WORDS = {"stop": "Stop", "caution": "Caution", "note": "Note"}


# Made once: a page carries a hundred edits, and json.dumps makes an encoder for each.
_ENCODER = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False, allow_nan=False, default=edit_document)


def as_json(value: object) -> str:
    """Compact JSON for a data attribute, of edits too; the template escapes it."""
    return _ENCODER.encode(value)


def plain_number(value: float | None) -> str:
    """A figure as people write it: one decimal at most, none where it is whole; empty for None."""
    return "" if value is None else f"{round(value, 1):g}"


class Pages:
    """Renders templates by name."""

    def __init__(self) -> None:
        self._environment = Environment(
            loader=FileSystemLoader(folder("templates")),
            autoescape=select_autoescape(default=True, default_for_string=True),
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,
        )
        self._environment.filters["json"] = as_json
        self._environment.filters["number"] = plain_number
        self._environment.filters["capitalise_first"] = capitalised
        self._environment.filters["under_its_words"] = under_its_words
        self._environment.globals["level_words"] = LEVEL_WORDS

    def html(self, name: str, **values: Any) -> str:
        """One page or part of one."""
        return self._environment.get_template(name).render(values)


def drawn(svg: str) -> Markup:
    """A drawing of ours, which a template may take as it is."""
    return Markup(svg)
