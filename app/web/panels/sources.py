"""On whom or what the sources of the rules and their thresholds are, counted for the page of rules."""

from collections import Counter
from collections.abc import Iterable

from app.catalogue import On, Thresholds
from app.catalogue.figures import ON_WORDS
from app.rules import Rule


def sources_counted(rules: Iterable[Rule], thresholds: Thresholds) -> tuple[tuple[On, int, int], ...]:
    """Kind of source, how many rules stand on it, and how many thresholds; without kinds that nothing stands on."""
    of_rules = Counter(rule.on for rule in rules)
    of_thresholds = Counter(entry.figure.on for entry in thresholds.entries.values())
    counted = ((on, of_rules[on], of_thresholds[on]) for on in ON_WORDS)
    return tuple(one for one in counted if one[1] + one[2])
