"""Thresholds of the rules: one table, every value with its unit, meaning, source and standing.

A department's own TOML overrides values, and nothing else::

    [near-fracture]
    clearance_diameters = 1.5
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from app.catalogue.figures import figure
from app.catalogue.load import DATA
from app.catalogue.models import Figure
from app.catalogue.tables import CatalogueError, Table, read

LIMIT = 1e9


@dataclass(frozen=True, slots=True)
class Threshold:
    """One figure that a rule compares with. ``low`` and ``high`` bound what a department may set."""

    rule: str
    name: str
    value: float
    unit: str
    about: str
    figure: Figure
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Thresholds:
    """All thresholds by ``(rule, name)``."""

    entries: dict[tuple[str, str], Threshold]

    def entry(self, rule: str, name: str) -> Threshold:
        """One threshold with all that is known about it.

        Raises:
            KeyError: there is none of that name.
        """
        return self.entries[rule, name]

    def value(self, rule: str, name: str) -> float:
        """The value of one threshold, in its own unit."""
        return self.entries[rule, name].value

    def of(self, rule: str) -> tuple[Threshold, ...]:
        """All thresholds of one rule, in the order of the table."""
        return tuple(entry for entry in self.entries.values() if entry.rule == rule)


def load_thresholds(override: Path | None = None) -> Thresholds:
    """The shipped table, with a department's values in place of the shipped ones.

    Raises:
        CatalogueError: the department's file is faulty; the message names file, key and allowed range.
    """
    shipped = _shipped()
    if override is None:
        return shipped
    file = read(override)
    file.only({rule for rule, _ in shipped.entries})
    changed = [entry for rule in file.values for entry in _changed(file.table(rule), rule, shipped)]
    return Thresholds(shipped.entries | {(entry.rule, entry.name): entry for entry in changed})


@lru_cache(maxsize=1)
def _shipped() -> Thresholds:
    file = read(DATA / "thresholds.toml")
    entries = [_entry(rule, name, table) for rule, rules in file.tables() for name, table in _named(rules)]
    return Thresholds({(entry.rule, entry.name): entry for entry in entries})


def _named(rules: Table) -> list[tuple[str, Table]]:
    return [(name, rules.table(name)) for name in rules.values]


def _entry(rule: str, name: str, table: Table) -> Threshold:
    table.only({"value", "unit", "about", "source", "standing", "on", "min", "max"})
    low = table.number("min", -LIMIT, LIMIT)
    high = table.number("max", low, LIMIT)
    return Threshold(
        rule=rule,
        name=name,
        value=table.number("value", low, high),
        unit=table.text("unit"),
        about=table.text("about"),
        figure=figure(table),
        low=low,
        high=high,
    )


def _changed(table: Table, rule: str, shipped: Thresholds) -> list[Threshold]:
    known = {entry.name: entry for entry in shipped.of(rule)}
    table.only(known)
    return [
        replace(
            known[name],
            value=table.number(name, known[name].low, known[name].high),
            figure=Figure(f"set by the department's own file ({table.file})", "common practice"),
        )
        for name in table.values
    ]


__all__ = ["CatalogueError", "Threshold", "Thresholds", "load_thresholds"]
