"""Reading a case: every fault with its path, in words that say what is allowed."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pydantic import ValidationError

from app.case.models import Case
from app.case.plain_text import mended_document
from app.case.refusals import in_words

MOST_FAULTS = 50
LONGEST_STEP = 80
LONGEST_MESSAGE = 1000


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a case. ``path`` is dotted from the top of the document, empty for the whole."""

    path: str
    message: str

    def __str__(self) -> str:
        return f"{self.path}: {self.message}" if self.path else self.message


class InvalidCase(ValueError):  # noqa: N818 - reads as what it is: the case is invalid
    """The document is not a valid case; ``faults`` holds every reason, or the first of very many and their number."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__("; ".join(str(fault) for fault in faults))
        self.faults = faults

    def __reduce__(self) -> tuple[type["InvalidCase"], tuple[tuple[Fault, ...]]]:
        """What it is made of anew in another process."""
        return InvalidCase, (self.faults,)


def capped(first: Sequence[Fault], of: int) -> tuple[Fault, ...]:
    """The first ``MOST_FAULTS`` of ``of`` faults, and one that counts the others: nobody reads a megabyte of them."""
    left_out = of - len(first)
    return (*first, Fault("", f"and {left_out} more")) if left_out else tuple(first)


def told(where: Iterable[int | str], message: str) -> Fault:
    """A fault; what a sender made endless is cut."""
    path = ".".join(_cut(str(step), LONGEST_STEP) for step in where)
    return Fault(path, _cut(message, LONGEST_MESSAGE))


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"


def faults_of(error: ValidationError, prefix: tuple[int | str, ...] = ()) -> tuple[Fault, ...]:
    """Turn pydantic's report into faults, with ``prefix`` before their paths; capped."""
    items = error.errors(include_url=False, include_input=False)
    return capped([told((*prefix, *item["loc"]), in_words(item)) for item in items[:MOST_FAULTS]], len(items))


def _refuse_constant(name: str) -> float:
    message = f"{name} is not a number that JSON knows"
    raise ValueError(message)


def not_json(error: ValueError | RecursionError) -> str:
    """Why a text is no JSON, and where."""
    if isinstance(error, json.JSONDecodeError):
        return f"not valid JSON from line {error.lineno}, column {error.colno} on"
    return "not valid JSON: nested too deeply" if isinstance(error, RecursionError) else f"not valid JSON: {error}"


def parse_case(text: str | bytes) -> Case:
    """Read a case file, of an older format too, and with free text of which older versions asked less.

    Raises:
        InvalidCase: not UTF-8, not JSON, or not a case; every fault found is listed.
    """
    try:
        document = json.loads(text, parse_constant=_refuse_constant)
    except UnicodeDecodeError as error:
        raise InvalidCase((Fault("", f"not text in UTF-8: byte {error.start + 1} can't be read"),)) from error
    except (ValueError, RecursionError) as error:
        raise InvalidCase((Fault("", not_json(error)),)) from error
    return case_from(mended_document(document) if isinstance(document, dict) else document)


def case_from(document: object) -> Case:
    """Check a decoded JSON document.

    Raises:
        InvalidCase: with every fault and its path.
    """
    try:
        return Case.model_validate(document)
    except ValidationError as error:
        raise InvalidCase(faults_of(error)) from error
