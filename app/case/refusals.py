"""Why a value is refused, in our words: no text of a library reaches a person."""

from collections.abc import Mapping
from typing import Any

OWN = frozenset({"value_error", "assertion_error"})  # these carry our own sentence
NUMBER = "must be a number"
OTHERWISE = "is not allowed here"

# By the kind of the error; ``{…}`` are filled in from its context.
WORDS: dict[str, str] = {
    "missing": "is missing",
    "extra_forbidden": "is not known here",
    "none_required": "must be null",
    "greater_than": "must be more than {gt:g}",
    "greater_than_equal": "must be {ge:g} or more",
    "less_than": "must be less than {lt:g}",
    "less_than_equal": "must be {le:g} or less",
    "finite_number": "must be a finite number",
    "float_type": NUMBER,
    "float_parsing": NUMBER,
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "int_parsing_size": "is too large a number",
    "bool_type": "must be true or false",
    "bool_parsing": "must be true or false",
    "string_type": "must be text",
    "string_unicode": "must be text in UTF-8",
    "string_too_short": "must have {min_length} or more characters",
    "string_too_long": "must have {max_length} or fewer characters",
    "string_pattern_mismatch": "is not written as it must be: {pattern}",
    "too_short": "must have {min_length} or more entries (got {actual_length})",
    "too_long": "must have {max_length} or fewer entries (got {actual_length})",
    "literal_error": "must be one of: {expected}",
    "enum": "must be one of: {expected}",
    "union_tag_invalid": "{discriminator} {tag!r} is not known; known: {expected_tags}",
    "union_tag_not_found": "must say {discriminator}",
    "tuple_type": "must be a list",
    "list_type": "must be a list",
    "set_type": "must be a list",
    "frozen_set_type": "must be a list",
    "dict_type": "must be an object",
    "model_type": "must be an object",
    "model_attributes_type": "must be an object",
    "dataclass_type": "must be an object",
    "mapping_type": "must be an object",
    "json_invalid": "not valid JSON",
    "json_type": "must be JSON text",
    "recursion_loop": "is nested too deeply",
}
_QUOTED = ("expected", "discriminator", "expected_tags")  # lists that come in quotes


def in_words(item: Mapping[str, Any]) -> str:
    """The reason that one of pydantic's errors gives.

    Args:
        item: ``type``, ``msg`` and, where there is one, ``ctx``.
    """
    kind = str(item["type"])
    if kind in OWN:
        return str(item["msg"]).removeprefix("Value error, ").removeprefix("Assertion failed, ")
    context = dict(item.get("ctx") or {})
    for name in _QUOTED:
        if name in context:
            context[name] = _listed(str(context[name]))
    try:
        return WORDS.get(kind, OTHERWISE).format_map(context)
    except (KeyError, ValueError):
        return OTHERWISE


def _listed(text: str) -> str:
    """``'a', 'b' or 'c'`` without quotes, and with commas only."""
    return text.replace("' or '", "', '").replace("'", "")
