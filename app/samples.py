"""The sample cases."""

from dataclasses import dataclass

from app.case import Case, parse_case
from app.shipped import folder


@dataclass(frozen=True, slots=True)
class Sample:
    """A sample case; ``key`` is its file name without the ending."""

    key: str
    case: Case


def load_samples() -> tuple[Sample, ...]:
    """All sample cases, sorted by file name.

    Raises:
        InvalidCase: one of them is not a valid case.
    """
    files = sorted(folder("sample_cases").glob("*.json"))
    return tuple(Sample(file.stem, parse_case(file.read_bytes())) for file in files)
