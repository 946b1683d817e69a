"""Two to four constructs side by side. They may be variants of one, of several revisions, or on different bones."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import chain

from app import rules
from app.assess import ConstructAssessment
from app.compare.figures import Line, figures
from app.compare.mechanics import asked, figures_of, mechanics_figures
from app.drawing import View, fitted_view
from app.figures import NONE
from app.figures.bands import same_way
from app.mechanics import MechanicsResult
from app.rules import LEVELS, Level, left_open

LEAST, MOST = 2, 4
MOSTLY = 0.75  # of the draws; our own border
Key = tuple[tuple[int, int, int], str, str]


@dataclass(frozen=True, slots=True)
class Column:
    """One construct under the name it is shown by; ``drawn``: its mechanics over what is not known."""

    label: str
    one: ConstructAssessment
    drawn: tuple[MechanicsResult, ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """One figure of every construct, in the order of the columns; ``–`` where one has no such figure.

    ``best``: indices of the columns with the better value. Empty where all are equal, where one has no value, and
    where which is better depends on what is wanted. ``holds``: in how many of all draws over what is not known the
    second of two columns lies on the same side of the first; None where that can't be told.
    """

    group: str
    name: str
    unit: str
    texts: tuple[str, ...]
    differs: bool
    best: tuple[int, ...]
    holds: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class DifferingWarning:
    """A warning that some constructs have (``columns``, by index) and others haven't.

    A note is left out if it is put away wherever it stands.
    """

    rule: str
    level: Level
    message: str
    columns: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """The columns' labels, all rows, and the warnings that differ, gravest first."""

    labels: tuple[str, ...]
    rows: tuple[Row, ...]
    warnings: tuple[DifferingWarning, ...]

    @property
    def told_in_draws(self) -> bool:
        """Whether any figure says in how many draws its difference holds."""
        return any(row.holds is not None for row in self.rows)

    @property
    def differing(self) -> tuple[Row, ...]:
        """Only the rows whose figures differ."""
        return tuple(row for row in self.rows if row.differs)


def compare(columns: tuple[Column, ...]) -> Comparison:
    """Set constructs side by side.

    Raises:
        ValueError: fewer than two columns or more than four.
    """
    if not LEAST <= len(columns) <= MOST:
        message = f"{LEAST} to {MOST} constructs can be compared, not {len(columns)}"
        raise ValueError(message)
    return Comparison(tuple(column.label for column in columns), _rows(columns), _warnings(columns))


def common_view(columns: Iterable[Column]) -> View:
    """The window along the shaft that shows all constructs, so that their drawings share one scale.

    Raises:
        ValueError: no columns.
    """
    views = [fitted_view(column.one.layout) for column in columns]
    return View(min(view.start_mm for view in views), max(view.end_mm for view in views))


def _rows(columns: tuple[Column, ...]) -> tuple[Row, ...]:
    found = [{(f.place, f.group, f.name): f for f in _figures(column.one)} for column in columns]
    keys = sorted(set(chain.from_iterable(found)))
    alike = _asked_alike(columns)
    sides = _sides(columns) if alike else []
    return tuple(_row(key, [one.get(key) for one in found], alike, sides) for key in keys)


def _sides(columns: tuple[Column, ...]) -> list[dict[Key, float]]:
    """By draw, how far each figure of the second of two columns lies above the first's."""
    if len(columns) != LEAST:
        return []
    found = []
    for pair in zip(*(column.drawn for column in columns), strict=False):
        first, second = ({(f.place, f.group, f.name): f.value for f in figures_of(one)} for one in pair)
        found.append({key: b - a for key, a in first.items() if a is not None and (b := second.get(key)) is not None})
    return found


def _figures(one: ConstructAssessment) -> Iterable[Line]:
    return chain(figures(one), mechanics_figures(one))


def _row(key: Key, figures_of_row: list[Line | None], alike: bool, sides: list[dict[Key, float]]) -> Row:
    texts = tuple(NONE if one is None else one.text for one in figures_of_row)
    first = next(one for one in figures_of_row if one is not None)
    best = _best(figures_of_row) if alike else ()
    holds = _holds(key, figures_of_row, sides)
    if holds is not None and holds[0] < MOSTLY * holds[1]:
        best = ()  # what is the better one depends on what nobody knows
    return Row(first.group, first.name, first.unit, texts, len(set(texts)) > 1, best, holds)


def _holds(key: Key, figures_of_row: list[Line | None], sides: list[dict[Key, float]]) -> tuple[int, int] | None:
    values = [one.value for one in figures_of_row if one is not None and one.value is not None]
    if not sides or len(values) != LEAST or values[0] == values[1]:
        return None
    told = [side.get(key) for side in sides]
    return None if told.count(None) == len(told) else (same_way(values[1] - values[0], told), len(told))


def _best(figures_of_row: list[Line | None]) -> tuple[int, ...]:
    values = [one.value for one in figures_of_row if one is not None and one.value is not None]
    better = next((one.better for one in figures_of_row if one is not None and one.better is not None), None)
    if better is None or len(values) < len(figures_of_row) or len(set(values)) == 1:
        return ()
    goal = min(values) if better == "lower" else max(values)
    return tuple(index for index, value in enumerate(values) if value == goal)


def _asked_alike(columns: tuple[Column, ...]) -> bool:
    """Whether better and worse can be told at all: one bone, under one load where there is any."""
    bones = {column.one.construct.bone.name for column in columns}
    loads = {None if column.one.mechanics is None else asked(column.one.mechanics) for column in columns}
    return len(bones) == 1 and len(loads) == 1


def _warnings(columns: tuple[Column, ...]) -> tuple[DifferingWarning, ...]:
    told: dict[tuple[int, str, str], list[int]] = {}
    for index, column in enumerate(columns):
        for key in dict.fromkeys(_key(warning) for warning in column.one.warnings):
            told.setdefault(key, []).append(index)
    left = {_key(warning) for column in columns for warning in left_open(column.one.warnings)}
    return tuple(
        DifferingWarning(rule, LEVELS[level], message, tuple(having))
        for (level, rule, message), having in sorted(told.items())
        if len(having) < len(columns) and (level, rule, message) in left
    )


def _key(warning: rules.Warning) -> tuple[int, str, str]:
    return LEVELS.index(warning.level), warning.rule, warning.message
