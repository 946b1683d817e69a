"""Free text in a case: title, note and names of what-ifs. None of it turns round the words that stand beside it.

A line (title, name) can be seen, too. What is said today is refused in words (``fault_of_line``, ``fault_of_note``);
what older versions of the program took is mended as it is read (``mended_…``), so that a case stays readable. What no
version took stays as it is, and is refused.
"""

import itertools
import re
import unicodedata
from collections.abc import Hashable, Sequence
from typing import Any

TITLE_LENGTH = 120
NAME_LENGTH = 60
UNTITLED = "Untitled case"
UNNAMED = "What-if"

CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
CONTROL_BUT_BREAKS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
# Unicode, PropList.txt, Bidi_Control (UAX #9): they turn round what stands beside them, a name in a list or a warning.
BIDI_CONTROL = re.compile(r"[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
# Letters and signs by their category that are drawn as nothing: fillers of Hangul, the blank of Braille, an empty note.
# By number: no page ever shows them, and so no typeface of ours needs to hold them.
BLANK = frozenset(map(chr, (0x115F, 0x1160, 0x2800, 0x3164, 0xFFA0, 0x1D159)))
VISIBLE = frozenset("LNPS")  # marks, blanks, format characters and what has no meaning yet are seen by nobody


def can_be_seen(text: str) -> bool:
    """Whether at least one character of it shows."""
    return any(unicodedata.category(one)[0] in VISIBLE and one not in BLANK for one in text)


def fault_of_line(line: str) -> str | None:
    """What is wrong with a title or name without blanks around it, whatever its length; None: nothing."""
    if CONTROL.search(line) or "<" in line or ">" in line:
        return "must be one line of plain text: no control characters, no < or >"
    if not line:
        return "must not be blank"
    return _turning(line) or (None if can_be_seen(line) else "must have at least one character that can be seen")


def fault_of_note(note: str) -> str | None:
    """What is wrong with text of several lines; None: nothing."""
    if CONTROL_BUT_BREAKS.search(note):
        return "must be plain text: no control characters other than line breaks and tabs"
    return _turning(note)


def _turning(text: str) -> str | None:
    turner = BIDI_CONTROL.search(text)
    if turner is None:
        return None
    one = turner.group()
    return f"must not hold U+{ord(one):04X} {unicodedata.name(one)}: it can turn round the words beside it"


def mended_title(title: str) -> str:
    """A title that an older version took, as it can be shown."""
    return _mended_line(title, UNTITLED)


def mended_names(named: Sequence[tuple[Hashable, str]]) -> list[str]:
    """Names of what-ifs, each with which construct it is of, as they can be shown.

    Two of one construct that were named apart stay so; a name that needs no mending stays as it is.
    """
    mended = [_mended_line(name, UNNAMED) for _, name in named]
    taken = {(place, _as_compared(new)) for (place, name), new in zip(named, mended, strict=True) if new == name}
    for at, (place, name) in enumerate(named):
        if mended[at] != name:
            mended[at] = unlike(_as_compared(mended[at]), {other for where, other in taken if where == place})
            taken.add((place, mended[at]))
    return mended


def _as_compared(name: str) -> str:
    """Names that differ in no more than how their accents are written, or in blanks around them, are the same name."""
    return unicodedata.normalize("NFC", name.strip())


def unlike(name: str, taken: set[str]) -> str:
    """The name, or where it is taken the name with the first number from 2 on that makes it another one."""
    numbered = (f"{name[: NAME_LENGTH - len(end)]}{end}" for n in itertools.count(2) if (end := f" {n}"))
    return name if name not in taken else next(one for one in numbered if one not in taken)


def mended_document(document: dict[str, Any]) -> dict[str, Any]:
    """A decoded case file of whatever version, with its free text mended."""
    new = dict(document)
    if isinstance(title := new.get("title"), str):
        new["title"] = mended_title(title)
    if isinstance(note := new.get("note"), str):
        new["note"] = BIDI_CONTROL.sub("", note)
    if isinstance(whatifs := new.get("whatifs"), list) and all(map(_has_name, whatifs)):
        names = mended_names([(one.get("target", 0), one["name"]) for one in whatifs])
        new["whatifs"] = [{**one, "name": name} for one, name in zip(whatifs, names, strict=True)]
    return new


def _has_name(whatif: object) -> bool:
    return isinstance(whatif, dict) and isinstance(whatif.get("name"), str) and isinstance(whatif.get("target", 0), int)


def _mended_line(line: str, unseen: str) -> str:
    if CONTROL.search(line) or not line.strip():
        return line
    if BIDI_CONTROL.search(line) is None and can_be_seen(line):
        return line
    text = BIDI_CONTROL.sub("", line).strip()
    return text if can_be_seen(text) else unseen
