"""What a figure is: its name, unit, how it is read from what was worked out, and how it is written.

Whatever shows a figure (panels, comparison, sheet, the assessment's schema) takes it from a table of these, so that it
is called and rounded the same everywhere.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Literal, TypeVar

Better = Literal["lower", "higher"]
Form = Callable[[float], str]
Of = TypeVar("Of")

NONE = "–"  # the figure has no meaning here


def decimals(places: int) -> Form:
    """A form with so many decimals, and no minus before a zero."""
    return lambda value: f"{round(value, places) + 0.0:.{places}f}"


def significant(places: int) -> Form:
    """A form with so many significant figures: more would promise more than a model estimate holds."""
    return lambda value: f"{float(f'{value:.{places}g}') + 0.0:,.10g}"


def hundredths(value: float) -> str:
    """Hundredths, and thousandths where there is less than a tenth."""
    return decimals(2 if abs(value) >= 0.1 else 3)(value)


TENTHS = decimals(1)


@dataclass(frozen=True, slots=True)
class Figure(Generic[Of]):
    """One figure of a layout, fragment, screw, fracture line or solved construct.

    ``id`` is stable and stands for this figure alone. ``label`` names it inside its ``group``; ``name``, where that is
    not enough, by itself. ``read`` takes it from what was worked out: a number in ``unit``, words, or None where it has
    no meaning. ``form`` writes a number. ``better`` is given only where nobody would argue. ``ways`` are the words for
    below and above zero where a sign is said in words, and ``worded`` is the label then. ``document`` is its place in
    the assessment document, as type and field. ``most``: what lies beyond has digits that say no more.
    """

    id: str
    group: str
    label: str
    unit: str
    read: Callable[[Of], float | str | None]
    form: Form = TENTHS
    better: Better | None = None
    name: str = ""
    ways: tuple[str, str] | None = None
    worded: str = ""
    document: str = ""
    most: float = math.inf

    def written(self, value: float) -> str:
        """A number as it is told, without its unit."""
        return f"over {self.form(self.most)}" if value > self.most else self.form(value)

    def text(self, of: Of) -> str:
        """The figure without its unit; ``–`` where it has no meaning."""
        value = self.read(of)
        if value is None or isinstance(value, str):
            return NONE if value is None else value
        return self.written(value)

    def shown(self, of: Of) -> float | None:
        """The number as it is shown: what looks the same counts as the same. None for words and where there is none."""
        value = self.read(of)
        if value is None or isinstance(value, str):
            return None
        return float(self.form(min(value, self.most)).replace(",", ""))

    def told(self, of: Of) -> str:
        """The figure with its unit."""
        value = self.read(of)
        return self.text(of) if value is None or isinstance(value, str) else self._with_unit(value)

    def said(self, of: Of) -> str:
        """The figure with its unit, and its sign in words."""
        value = self.read(of)
        if value is None or isinstance(value, str) or self.ways is None:
            return self.told(of)
        size = self.form(abs(value))
        if float(size.replace(",", "")) == 0:
            return f"0 {self.unit}"
        return f"{size} {self.unit} {self.ways[value > 0]}"

    @property
    def heading(self) -> str:
        """Label and unit, as a column's heading."""
        return f"{self.label}, {self.unit}" if self.unit else self.label

    @property
    def full_name(self) -> str:
        """The name by itself, away from its group."""
        return self.name or self.label

    def _with_unit(self, value: float) -> str:
        return f"{self.written(value)} {self.unit}" if self.unit else self.written(value)


def yes(value: bool) -> str:
    """In words."""
    return "yes" if value else "no"
