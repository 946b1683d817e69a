"""The typeface of drawings: how wide a text becomes, and the face itself for a file that is shown elsewhere."""

import base64
from collections.abc import Iterable
from functools import lru_cache

from app.drawing.widths import REGULAR, STRONG
from app.shipped import typefaces

# The general family after ours is for signs that ours lacks, and for programs that take no font from a file.
FONT = "'Fishplate Sans', sans-serif"
EM = 1000
UNKNOWN = 1000  # a sign of another script; most are no wider than the type is high

_REGULAR = {sign: width for width, signs in REGULAR.items() for sign in signs}
_STRONG = {sign: width for width, signs in STRONG.items() for sign in signs}


def text_width(text: str, size: float, *, strong: bool = False) -> float:
    """How wide a line of text becomes, in the unit of ``size``; without kerning, which pulls a little closer."""
    widths = _STRONG if strong else _REGULAR
    return sum([widths.get(sign, UNKNOWN) for sign in text]) * size / EM


def has_signs(text: str) -> bool:
    """Whether the face has every sign of a text."""
    return text.isascii() or all(sign.isascii() or sign in _REGULAR for sign in text)


def wrapped(text: str, size: float, room: float) -> list[str]:
    """Text in lines no wider than ``room``; a word that is wider than that is broken."""
    lines: list[str] = []
    for word in _pieces(text.split(), size, room):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _pieces(words: Iterable[str], size: float, room: float) -> Iterable[str]:
    for word in words:
        piece = ""
        for sign in word:
            if piece and text_width(piece + sign, size) > room:
                yield piece
                piece = ""
            piece += sign
        yield piece


def shortened(text: str, size: float, room: float) -> str:
    """Text cut after a word, with an ellipsis, where it is wider than ``room``."""
    if text_width(text, size) <= room:
        return text
    kept = text
    while " " in kept and text_width(f"{kept} …", size) > room:
        kept = kept.rsplit(" ", 1)[0]
    return f"{kept} …"


@lru_cache(maxsize=1)
def _faces() -> str:
    """The signs that drawings use, regular and strong, as part of a style sheet."""
    rules = []
    for name, weight in (("regular", "400"), ("strong", "600")):
        data = base64.b64encode((typefaces() / f"fishplate-sans-{name}-drawing.woff2").read_bytes()).decode()
        source = f"url(data:font/woff2;base64,{data}) format('woff2')"
        rules.append(f"@font-face {{ font-family: 'Fishplate Sans'; font-weight: {weight}; src: {source}; }}\n")
    return "".join(rules)


def with_typeface(svg: str) -> str:
    """A stand-alone drawing with the face inside, so that it looks the same where nobody has it; 21 kB more.

    Raises:
        ValueError: the drawing has no style sheet; it is not one that stands alone.
    """
    before, tag, after = svg.partition("<style>")
    if not tag:
        message = "only a drawing that stands alone can carry its typeface"
        raise ValueError(message)
    return f"{before}{tag}{_faces()}{after}"
