"""The only place that writes SVG: elements, path data, finite-number check, rounding, escaping.

svgwrite runs with ``debug=False``: its validator knows SVG 1.1 only and refuses ``role``, ``aria-*`` and ``data-*``.
It lets ``nan`` through and writes floats in full, so every number passes ``num`` or ``run`` here first.
"""

import math
import re
from collections.abc import Callable, Iterable

from svgwrite.base import BaseElement

Point = tuple[float, float]
Attrs = dict[str, "str | float | None"]

# What XML 1.0 can't carry even when escaped. Words from outside come in as text and as ``aria-label`` only.
UNWRITABLE = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

SVG = "http://www.w3.org/2000/svg"
ENTITIES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;"})


def num(value: float) -> str:
    """A number as SVG text, to 0.01.

    Raises:
        ValueError: ``nan`` or infinite; nothing of the kind may reach a drawing.
    """
    if not math.isfinite(value):
        message = f"{value} can't be drawn"
        raise ValueError(message)
    return f"{value:.2f}"


def figure(value: float) -> str:
    """A number as people and scripts read it: to 0.01, without idle zeros."""
    text = num(value).rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def plain(text: str) -> str:
    """Text without the characters that XML can't carry."""
    return UNWRITABLE.sub("", text)


def plainly_quoted(text: str) -> bool:
    """Whether text may stand in a quoted attribute as it is."""
    return not ("&" in text or "<" in text or ">" in text or '"' in text or "\n" in text)


def quoted(text: str) -> str:
    """Text as it may stand in a quoted attribute, on one line."""
    return escaped(text).replace("\n", "&#10;")


def escaped(text: str) -> str:
    """Text as it may stand between tags."""
    if "&" in text or "<" in text or ">" in text or '"' in text:
        return text.translate(ENTITIES)
    return text


_PLAIN_SETTINGS = BaseElement(debug=False)  # shared by all elements: making them anew takes longer than the element


class Element(BaseElement):  # type: ignore[misc]  # svgwrite has no types
    """One SVG element. Attribute names are written as in SVG; values that are None are left out."""

    def __init__(self, name: str, attrs: Attrs, children: Iterable["Element"] = (), text: str = "") -> None:
        # what BaseElement's own constructor sets, without its handling of keywords, which takes longer than all else
        self._parameter = _PLAIN_SETTINGS._parameter
        self.elementname = name
        self.attribs = {
            key: value if isinstance(value, str) else num(value) for key, value in attrs.items() if value is not None
        }
        if "aria-label" in self.attribs:
            self.attribs["aria-label"] = plain(self.attribs["aria-label"])
        self.elements = list(children)
        self.text = plain(text) if text else ""

    def tostring(self) -> str:
        """The element as text, escaped.

        svgwrite goes through ElementTree, which takes a third of the time of a whole drawing.
        """
        out: list[str] = []
        self.write(out.append)
        return "".join(out)

    def start(self) -> str:
        """Its start tag as far as the attributes go."""
        attribs = self.attribs
        if not plainly_quoted("".join(attribs.values())):
            attribs = {key: quoted(value) for key, value in attribs.items()}
        return f"<{self.elementname}" + "".join([f' {key}="{value}"' for key, value in attribs.items()])

    def write(self, put: Callable[[str], object]) -> None:
        """Hand over the element's text in pieces."""
        put(self.start())
        if not self.elements and not self.text:
            put("/>")
            return
        put(">")
        if self.text:
            put(escaped(self.text))
        for element in self.elements:
            element.write(put)
        put(f"</{self.elementname}>")


class Written(Element):
    """Elements in a row, written once and put into many drawings."""

    def __init__(self, elements: Iterable[Element]) -> None:
        self.kept = "".join([element.tostring() for element in elements])

    @classmethod
    def of(cls, text: str) -> "Written":
        """Elements that are text already, in numbers that would take long one by one; all in it must be escaped."""
        written = cls(())
        written.kept = text
        return written

    def write(self, put: Callable[[str], object]) -> None:
        """Hand over their text."""
        put(self.kept)


class Lined(Element):
    """An element whose children each begin a line of their own, so that two drawings can be compared line by line.

    What is inside a child stays on its line.
    """

    def write(self, put: Callable[[str], object]) -> None:
        """Hand over the element's text in pieces; it is never written as an empty element."""
        put(self.start())
        put(">")
        for element in self.elements:
            put("\n")
            element.write(put)
        put(f"\n</{self.elementname}>")


def el(name: str, children: Iterable[Element], attrs: Attrs) -> Element:
    """An element with children."""
    return Element(name, attrs, children)


def group(children: Iterable[Element], attrs: Attrs) -> Element:
    """A group."""
    return Element("g", attrs, children)


def lined(children: Iterable[Element], attrs: Attrs) -> Element:
    """A group whose children each begin a line."""
    return Lined("g", attrs, children)


def path(data: str, class_: str, width: float | None = None, **attrs: str | float | None) -> Element:
    """A path; ``width`` is that of its stroke. ``fill`` and others by name, with ``_`` for a hyphen."""
    given: Attrs = {"d": data, "class": class_, "stroke-width": width}
    return Element("path", given | _hyphened(attrs) if attrs else given)


def label(text: str, at: Point, class_: str, **attrs: str | float | None) -> Element:
    """A line of text, anchored on its baseline."""
    return Element("text", {"x": at[0], "y": at[1], "class": class_, **_hyphened(attrs)}, (), text)


def _hyphened(attrs: Attrs) -> Attrs:
    return {key.replace("_", "-"): value for key, value in attrs.items()}


def title(text: str) -> Element:
    """The name of the element it is put into."""
    return Element("title", {}, (), text)


def style(rules: str) -> Element:
    """A style sheet inside a stand-alone file."""
    return Element("style", {}, (), rules)


def run(points: Iterable[Point]) -> str:
    """Path data of an open line through points.

    Raises:
        ValueError: a point is not finite.
    """
    return _finite("M" + "L".join(["%.2f,%.2f" % point for point in points]))  # noqa: UP031 - twice as fast here


def _finite(data: str) -> str:
    if "n" in data:  # nan and inf
        message = f"{data} can't be drawn"
        raise ValueError(message)
    return data


def at(x: float, y: float) -> str:
    """A point as path data has it.

    Raises:
        ValueError: it is not finite.
    """
    return filled("%.2f,%.2f", (x, y))


def through(points: Iterable[str]) -> str:
    """Path data of a closed outline through points that are written already."""
    return f"M{'L'.join(points)}Z"


def loop(points: Iterable[Point]) -> str:
    """Path data of a closed outline through points."""
    return run(points) + "Z"


def filled(data: str, numbers: Iterable[float]) -> str:
    """Path data with numbers put in their places.

    Raises:
        ValueError: a number is not finite.
    """
    return _finite(data % tuple(numbers))


def disc(centre: Point, radius: float) -> str:
    """Path data of a circle."""
    x, y = centre
    r, across = num(radius), num(2 * radius)
    return f"M{num(x - radius)},{num(y)}a{r},{r} 0 1 0 {across},0a{r},{r} 0 1 0 -{across},0Z"


def box(x: float, y: float, width: float, height: float) -> str:
    """Path data of a rectangle."""
    return f"M{num(x)},{num(y)}h{num(width)}v{num(height)}h{num(-width)}Z"
