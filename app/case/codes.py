"""AO/OTA 2018 codes of shaft fractures.

Source: Fracture and Dislocation Classification Compendium 2018, J Orthop Trauma 32(1 Suppl):S1-S170. The structure
(no B1, no C1; groups 1 to 3) was read there for the humerus and the forearm; femur and tibia follow the same pattern,
and the fibula's and clavicle's lack of groups is from memory where the compendium page could not be read.
"""

from dataclasses import dataclass

GROUPS = ("A1", "A2", "A3", "B2", "B3", "C2", "C3")
PLAIN_TYPES = ("A", "B", "C")

PREFIXES = {
    "humerus": "12",
    "radius": "2R2",
    "ulna": "2U2",
    "femur": "32",
    "tibia": "42",
    "fibula": "4F2",
    "clavicle": "15.2",
}
UNGROUPED = frozenset({"clavicle", "fibula"})

NAMES = {
    "A": "simple",
    "A1": "simple, spiral",
    "A2": "simple, oblique",
    "A3": "simple, transverse",
    "B": "wedge",
    "B2": "wedge, intact",
    "B3": "wedge, fragmentary",
    "C": "multifragmentary",
    "C2": "multifragmentary, intact segmental",
    "C3": "multifragmentary, fragmentary segmental",
}
FIBULA_NAMES = {"A": "simple", "B": "wedge or multifragmentary"}


@dataclass(frozen=True, slots=True)
class FractureCode:
    """One code taken apart: the bone it belongs to and its pattern (``A2``, or ``A`` where the bone has no groups)."""

    bone: str
    pattern: str

    @property
    def kind(self) -> str:
        """Type letter: A simple, B wedge, C multifragmentary."""
        return self.pattern[0]

    @property
    def text(self) -> str:
        """The code as written, e.g. ``12A2``."""
        return PREFIXES[self.bone] + self.pattern

    @property
    def name(self) -> str:
        """The pattern in words."""
        return FIBULA_NAMES[self.pattern] if self.bone == "fibula" else NAMES[self.pattern]


def patterns_of(bone: str) -> tuple[str, ...]:
    """Patterns that exist for a bone, e.g. ``("A1", "A2", …)``."""
    if bone == "fibula":
        return ("A", "B")
    return PLAIN_TYPES if bone in UNGROUPED else GROUPS


def pattern_on(bone: str, group: str) -> str:
    """What the code of a bone says of a fracture of this group: the bone's own group, or its type where it has none."""
    known = patterns_of(bone)
    if group in known:
        return group
    return group[0] if group[0] in known else "B"  # the fibula's: wedge or multifragmentary


ALL_CODES = {
    PREFIXES[bone] + pattern: FractureCode(bone, pattern) for bone in PREFIXES for pattern in patterns_of(bone)
}


def parse_code(text: str) -> FractureCode:
    """Read a code in upper or lower case.

    Raises:
        ValueError: no such code in the 2018 edition; the message lists what exists for the bone it seems to mean.
    """
    written = text.strip().upper()
    if written in ALL_CODES:
        return ALL_CODES[written]
    near = [code for code in ALL_CODES if written[:2] and code.startswith(written[:2])]
    known = ", ".join(near or sorted(ALL_CODES))
    message = f"no such AO/OTA 2018 shaft code; known: {known}"
    raise ValueError(message)
