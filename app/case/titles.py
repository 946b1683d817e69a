"""What can be the title of a case: one line that can be seen, and that leaves the text around it in its order.

``mended`` makes a title of what older versions of the program took, so that a case stays readable; what is said
today is refused instead, in words (``fault_of``).
"""

import re
import unicodedata

TITLE_LENGTH = 120
UNTITLED = "Untitled case"

CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
# Unicode, PropList.txt, Bidi_Control (UAX #9): they turn round what stands beside them, a name in a list or a warning.
BIDI_CONTROL = re.compile(r"[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
# Letters and signs by their category that are drawn as nothing: fillers of Hangul, the blank of Braille, an empty note.
# By number: no page ever shows them, and so no typeface of ours needs to hold them.
BLANK = frozenset(map(chr, (0x115F, 0x1160, 0x2800, 0x3164, 0xFFA0, 0x1D159)))
VISIBLE = frozenset("LNPS")  # marks, blanks, format characters and what has no meaning yet are seen by nobody


def can_be_seen(text: str) -> bool:
    """Whether at least one character of it shows."""
    return any(unicodedata.category(one)[0] in VISIBLE and one not in BLANK for one in text)


def fault_of(title: str) -> str | None:
    """What is wrong with a title without blanks around it, whatever its length; None: nothing."""
    if CONTROL.search(title) or "<" in title or ">" in title:
        return "must be one line of plain text: no control characters, no < or >"
    turner = BIDI_CONTROL.search(title)
    if turner is not None:
        one = turner.group()
        return f"must not hold U+{ord(one):04X} {unicodedata.name(one)}: it can turn round the words beside it"
    if not title:
        return "must not be blank"
    if not can_be_seen(title):
        return "must have at least one character that can be seen"
    return None


def mended(title: str) -> str:
    """A title that an older version took, as it can be shown: nothing that turns text round, and something to see.

    What no version took stays as it is, and is refused.
    """
    if CONTROL.search(title) or not title.strip():
        return title
    text = BIDI_CONTROL.sub("", title).strip()
    return text if can_be_seen(text) else UNTITLED
