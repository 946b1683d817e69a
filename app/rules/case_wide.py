"""Rules on the case as a whole: two bones of one forearm, and identifiers in title or note.

They look at ``judged.case`` only, which every construct's view carries.
"""

import re
from collections.abc import Iterator

from app.case.edits import AddConstruct, RemoveConstruct, SetNote, SetTitle, SingleEdit
from app.case.models import FOREARM, Construct
from app.rules.edits import remedy
from app.rules.registry import Finding, Registry, Remedy, RuleInput

CASE_WIDE_RULES = Registry()


def complexity(construct: Construct) -> int:
    """How broken a bone is: 0 one bare line, 1 a wedge, 2 several lines, 3 a zone without bone."""
    fracture = construct.fracture
    if any(line.zone_mm > 0 for line in fracture.lines):
        return 3
    return 2 if len(fracture.lines) > 1 else int(fracture.wedge is not None)


@CASE_WIDE_RULES.rule(
    "two-bones",
    "note",
    says="Both forearm bones: an approach for each, the simpler fracture is reduced first, and neither is finished "
    "before the other is shown to reduce.",
    why="One cut to both bones invites a bridge of bone between them. The simpler fracture gives back the length to "
    "which the other bone is then set.",
    source="AO Surgery Reference, forearm shaft, fractures of both bones: if they are alike, the ulna first; against "
    "it StatPearls 2023, forearm fractures: if both are simple, the radius first",
    standing="handbook",
    on="humans",
)
def two_bones(judged: RuleInput) -> Iterator[Finding]:
    """Radius and ulna in one case, and which of them comes first."""
    constructs = judged.case.constructs
    places = {construct.bone.name: i for i, construct in enumerate(constructs) if construct.bone.name in FOREARM}
    if set(places) != FOREARM:
        return
    first, second = sorted(places.values())
    subject = (f"construct-{first}", f"construct-{second}")
    one, other = constructs[first].bone.name, constructs[second].bone.name
    message = (
        f"{one.capitalize()} and {other}: a separate approach to each; finish neither before the other is shown to "
        "reduce."
    )
    yield Finding(message, subject)
    if complexity(constructs[first]) > complexity(constructs[second]):
        message = (
            f"The {one} comes first, but the {other} is the simpler fracture: reduced first, it gives the length back."
        )
        yield Finding(message, (subject[1], subject[0]), "caution", _other_first(judged, first, other))


def _other_first(judged: RuleInput, first: int, other: str) -> Remedy:
    """Take the first construct out and put it at the end."""
    edits: list[SingleEdit] = [RemoveConstruct(target=first), AddConstruct(value=judged.case.constructs[first])]
    return remedy(f"Do the {other} first", edits)


NUMBER = r"(?:no\.?|nr\.?|num(?:ber)?|id|#)"
WORD = r"[^\W\d_][\w'’-]*"
PATTERNS: dict[str, re.Pattern[str]] = {
    "a date of birth": re.compile(
        r"\b(?:d\.?o\.?b\.?|date\s+of\s+birth|birth\s?da(?:te|y)|born)\b[^\n]{0,24}?\d[\d./ -]*"
        r"|(?<![\d.])(?:\d{1,2}[./-]\d{1,2}[./-](?:19|20)\d{2}|(?:19|20)\d{2}[./-]\d{1,2}[./-]\d{1,2})(?![\d.])",
        re.IGNORECASE,
    ),
    "a record number": re.compile(
        rf"\b(?:mrn|record|chart|hospital|patient|case|insurance|social\s+security)\s*{NUMBER}?\s*[:#=]?\s*[a-z]{{0,3}}-?\d{{4,}}"
        r"|(?<![\d.])\d{3}[- ]\d{2}[- ]\d{4}(?!\d)|(?<![\d.])\d{3}[- ]\d{3}[- ]\d{4}(?!\d)|(?<![\d.])\d{7,}(?![\d.])",
        re.IGNORECASE,
    ),
    "a name": re.compile(
        rf"\b(?:(?:first|last|full|family|patient'?s?)\s+)?(?:name|surname)\s*[:=]\s*{WORD}(?:[ ,]+{WORD})?"
        rf"|\b(?:patient|pt)\s*[:=]\s*{WORD}(?:[ ,]+{WORD})?|(?-i:\b(?:Mr|Mrs|Ms|Miss)\b\.?\s+(?=[^\W\d_a-z]){WORD})",
        re.IGNORECASE,
    ),
}


@CASE_WIDE_RULES.rule(
    "privacy",
    "caution",
    says="Title and note hold no date of birth, record number or name.",
    why="Cases are stored and shared as they are. Without identifiers a lost file harms nobody.",
    source="identifiers listed by the US de-identification rule, 45 CFR 164.514(b)(2), as three texts quote it (first "
    "items read word for word)",
    standing="published",
    on="humans",
)
def privacy(judged: RuleInput) -> Iterator[Finding]:
    """What looks like an identifier; the message doesn't repeat it."""
    for field, text in (("title", judged.case.title), ("note", judged.case.note)):
        found = [what for what, pattern in PATTERNS.items() if pattern.search(text)]
        if found:
            message = (
                f"The {field} looks as if it held {' and '.join(found)}. Take out what could tell who the patient is."
            )
            yield Finding(message, (field,), None, _blotted(field, text))


def _blotted(field: str, text: str) -> Remedy:
    for _ in range(3):  # taking one out can bring another together
        for pattern in PATTERNS.values():
            text = pattern.sub("…", text)
    edit = SetTitle(title=text) if field == "title" else SetNote(note=text)
    return remedy(f"Blot it out of the {field}", [edit])
