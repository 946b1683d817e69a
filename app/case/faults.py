"""Reading a case: every fault with its path, in words that say what is allowed."""

import json
from dataclasses import dataclass

from pydantic import ValidationError

from app.case.models import Case
from app.case.upgrade import upgraded


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a case. ``path`` is dotted from the top of the document, empty for the whole."""

    path: str
    message: str

    def __str__(self) -> str:
        return f"{self.path}: {self.message}" if self.path else self.message


class InvalidCase(ValueError):  # noqa: N818 - reads as what it is: the case is invalid
    """The document is not a valid case; ``faults`` holds every reason."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__("; ".join(str(fault) for fault in faults))
        self.faults = faults


def faults_of(error: ValidationError) -> tuple[Fault, ...]:
    """Turn pydantic's report into faults, without its wrapping words."""
    return tuple(
        Fault(".".join(str(step) for step in item["loc"]), item["msg"].removeprefix("Value error, "))
        for item in error.errors(include_url=False, include_context=False, include_input=False)
    )


def _refuse_constant(name: str) -> float:
    message = f"{name} is not a number that JSON knows"
    raise ValueError(message)


def parse_case(text: str | bytes) -> Case:
    """Read a case file, of an older format too.

    Raises:
        InvalidCase: not UTF-8, not JSON, or not a case; every fault found is listed.
    """
    try:
        document = json.loads(text, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        raise InvalidCase((Fault("", f"not valid JSON: {error}"),)) from error
    return case_from(upgraded(document))


def case_from(document: object) -> Case:
    """Check a decoded JSON document.

    Raises:
        InvalidCase: with every fault and its path.
    """
    try:
        return Case.model_validate(document)
    except ValidationError as error:
        raise InvalidCase(faults_of(error)) from error
