"""What the mechanics don't know of a construct, and between what it may lie; with sources."""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from app.catalogue.figures import sources
from app.catalogue.models import Figure
from app.catalogue.tables import read

FILE = Path(__file__).parent / "data" / "unknowns.toml"
NAMES = (
    "foundation",
    "bone_modulus",
    "friction_plate_bone",
    "friction_bone_bone",
    "clamp",
    "friction_head",
    "slot",
)
DRAWS = 23  # a prime
FACTORS = frozenset({"bone_modulus", "clamp"})  # of what is used otherwise


@dataclass(frozen=True, slots=True)
class Unknown:
    """One of them: its name, what it is in words, the ends of its range, and how it is spread between them."""

    name: str
    words: str
    low: float
    high: float
    log: bool
    figure: Figure

    def at(self, share: float) -> float:
        """The figure at a share (0 to 1) of the range."""
        if self.log:
            return float(self.low * (self.high / self.low) ** share)
        return self.low + (self.high - self.low) * share


@lru_cache(maxsize=1)
def unknowns() -> tuple[Unknown, ...]:
    """The shipped ones, in the order of ``NAMES``.

    Raises:
        CatalogueError: the shipped file is faulty.
    """
    file = read(FILE)
    known = sources(file)
    table = file.table("unknowns")
    table.only(NAMES)
    found = []
    for name in NAMES:
        row = table.table(name)
        low, high, log = row.number("low", 0, 10), row.number("high", 0, 10), row.flag("log")
        if not low < high or (log and low <= 0):
            raise row.fault("high", "must lie above low, and low above 0 where log is true")
        found.append(Unknown(name, row.text("words"), low, high, log, known[row.choice("figure", tuple(known))]))
    return tuple(found)
