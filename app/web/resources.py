"""Where templates, static files and sample cases lie: inside an installed package, or beside it in a checkout."""

from dataclasses import dataclass
from pathlib import Path

from app.case import Case, parse_case

PACKAGE = Path(__file__).resolve().parent.parent


def folder(name: str) -> Path:
    """The folder of that name.

    Raises:
        FileNotFoundError: neither shipped nor in the checkout; the installation is incomplete.
    """
    for place in (PACKAGE / "_shipped" / name, PACKAGE.parent / name):
        if place.is_dir():
            return place
    message = f"the folder {name} is missing; install the package again"
    raise FileNotFoundError(message)


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
