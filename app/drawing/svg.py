"""The only place that writes SVG: elements, path data, finite-number check, rounding, escaping.

svgwrite runs with ``debug=False``: its validator knows SVG 1.1 only and refuses ``role``, ``aria-*`` and ``data-*``.
It lets ``nan`` through and writes floats in full, so every number passes ``num`` here first.
"""

import math
import re
from collections.abc import Iterable
from typing import Any

from svgwrite.base import BaseElement

Point = tuple[float, float]
Attrs = dict[str, "str | float | None"]

# What XML 1.0 can't carry even when escaped.
UNWRITABLE = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def num(value: float) -> str:
    """A number as SVG text, to 0.01.

    Raises:
        ValueError: ``nan`` or infinite; nothing of the kind may reach a drawing.
    """
    if not math.isfinite(value):
        message = f"{value} can't be drawn"
        raise ValueError(message)
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def plain(text: str) -> str:
    """Text without the characters that XML can't carry."""
    return UNWRITABLE.sub("", text)


class Element(BaseElement):  # type: ignore[misc]  # svgwrite has no types
    """One SVG element. Attribute names are written as in SVG; values that are None are left out."""

    def __init__(self, name: str, attrs: Attrs, children: Iterable["Element"] = (), text: str = "") -> None:
        super().__init__(debug=False)
        self.elementname = name
        self.attribs = {
            key: value if isinstance(value, str) else num(value) for key, value in attrs.items() if value is not None
        }
        self.elements = list(children)
        self.text = text

    def get_xml(self) -> Any:
        """The element for the serialiser, which escapes text and attributes."""
        xml = super().get_xml()
        if self.text:
            xml.text = plain(self.text)
        for key, value in xml.attrib.items():
            if UNWRITABLE.search(value):
                xml.set(key, plain(value))
        return xml


class Fixed(Element):
    """An element that is built once and reused in many drawings; it must not be changed after."""

    def get_xml(self) -> Any:
        """The same tree each time."""
        if not hasattr(self, "_xml"):
            self._xml = super().get_xml()
        return self._xml


def el(name: str, children: Iterable[Element] = (), **attrs: str | float | None) -> Element:
    """An element; ``class_`` and ``stroke_width`` stand for ``class`` and ``stroke-width``."""
    return Element(name, {key.rstrip("_").replace("_", "-"): value for key, value in attrs.items()}, children)


def group(children: Iterable[Element], attrs: Attrs) -> Element:
    """A group."""
    return Element("g", attrs, children)


def path(data: str, class_: str, **attrs: str | float | None) -> Element:
    """A path."""
    return el("path", d=data, class_=class_, **attrs)


def label(text: str, at: Point, class_: str, **attrs: str | float | None) -> Element:
    """A line of text, anchored on its baseline."""
    return Element(
        "text",
        {"x": at[0], "y": at[1], "class": class_, **{key.replace("_", "-"): value for key, value in attrs.items()}},
        (),
        text,
    )


def title(text: str) -> Element:
    """The name of the element it is put into."""
    return Element("title", {}, (), text)


def style(rules: str) -> Element:
    """A style sheet inside a stand-alone file."""
    return Element("style", {}, (), rules)


def run(points: Iterable[Point]) -> str:
    """Path data of an open line through points."""
    return "M" + "L".join(f"{num(x)},{num(y)}" for x, y in points)


def loop(points: Iterable[Point]) -> str:
    """Path data of a closed outline through points."""
    return run(points) + "Z"


def disc(centre: Point, radius: float) -> str:
    """Path data of a circle."""
    x, y = centre
    r, across = num(radius), num(2 * radius)
    return f"M{num(x - radius)},{num(y)}a{r},{r} 0 1 0 {across},0a{r},{r} 0 1 0 -{across},0Z"


def box(x: float, y: float, width: float, height: float) -> str:
    """Path data of a rectangle."""
    return f"M{num(x)},{num(y)}h{num(width)}v{num(height)}h{num(-width)}Z"
