"""What a rule is: a small function from an assessed construct to findings, with an id, a reason and a source."""

from collections.abc import Callable, Container, Iterable
from dataclasses import dataclass, replace
from typing import Literal

from app.case.edits import Edit
from app.case.faults import Fault
from app.case.models import Case, Construct
from app.catalogue import Catalogue, Thresholds
from app.catalogue.models import On, Standing
from app.geometry import Layout, Summary
from app.mechanics import MechanicsResult
from app.mechanics.of_layout import Loading
from app.rules.unmended import UNMENDED

Level = Literal["stop", "caution", "note"]
LEVELS: tuple[Level, ...] = ("stop", "caution", "note")


@dataclass(frozen=True, slots=True)
class Remedy:
    """A remedy: what the button says, and the edit it makes."""

    label: str
    edit: Edit


@dataclass(frozen=True, slots=True)
class Finding:
    """What a rule says of one construct.

    ``subject`` are the ids of the parts it speaks of: ``h3``, ``s1``, ``line-0``, ``plate``, ``bone``, ``wedge``, or
    ``fragment-`` and a fragment's name; of a case as a whole ``title``, ``note`` or ``construct-0``. ``level`` and
    ``source`` None mean the rule's own; a figure that belongs to one bone brings its own source.
    """

    message: str
    subject: tuple[str, ...]
    level: Level | None = None
    remedy: Remedy | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True, eq=False)  # one per judgement, told apart by identity
class RuleInput:
    """Everything a rule may look at: ``target`` is the construct's index; ``mechanics`` may be left out.

    ``missing``: what the stored construct asks for and the stock doesn't have, so that another stands in for it.
    ``rules``: those that judge it, for a remedy that asks what would then be told. ``trial``: only what the rules say
    is asked, not what would mend it, since a search for a remedy takes many times as long.
    """

    case: Case
    target: int
    layout: Layout
    summary: Summary
    catalogue: Catalogue
    thresholds: Thresholds
    loading: Loading | None = None
    mechanics: MechanicsResult | None = None
    missing: tuple[Fault, ...] = ()
    rules: "Registry | None" = None
    trial: bool = False

    @property
    def construct(self) -> Construct:
        """The construct as the user wrote it."""
        return self.layout.construct


Judge = Callable[[RuleInput], Iterable[Finding]]


@dataclass(frozen=True, slots=True)
class Rule:
    """A registered rule: id, default level, what it says, why, where that comes from, and on whom or what that was."""

    id: str
    level: Level
    says: str
    why: str
    source: str
    standing: Standing
    on: On
    judge: Judge


@dataclass(frozen=True, slots=True)
class Warning:  # noqa: A001 - the trade word of the interface
    """One warning of the assessment; ``acknowledged``: a note that whoever plans the case has put away.

    ``unmended``: why a stop or caution offers no remedy; empty where it offers one, and for notes.
    """

    rule: str
    level: Level
    subject: tuple[str, ...]
    message: str
    why: str
    source: str
    remedy: Remedy | None
    acknowledged: bool = False
    unmended: str = ""


class Registry:
    """Rules in the order in which they are told."""

    def __init__(self) -> None:
        self.rules: dict[str, Rule] = {}

    def rule(
        self, name: str, level: Level, *, says: str, why: str, source: str, standing: Standing, on: On = "none"
    ) -> Callable[[Judge], Judge]:
        """Register the decorated function.

        Raises:
            ValueError: the id is taken.
        """

        def register(judge: Judge) -> Judge:
            if name in self.rules:
                message = f"rule {name} is registered twice"
                raise ValueError(message)
            self.rules[name] = Rule(name, level, says, why, source, standing, on, judge)
            return judge

        return register

    @classmethod
    def joined(cls, *parts: "Registry") -> "Registry":
        """The rules of several themes as one registry, told in the order given.

        Raises:
            ValueError: two themes hold the same id.
        """
        whole = cls()
        for rule in (rule for part in parts for rule in part.rules.values()):
            if rule.id in whole.rules:
                message = f"rule {rule.id} is registered twice"
                raise ValueError(message)
            whole.rules[rule.id] = rule
        return whole

    def judge(self, judged: RuleInput, only: Container[str] | None = None) -> tuple[Warning, ...]:
        """All warnings on one construct, gravest first, else in the order of the rules.

        ``only``: rules that are known to speak, for somebody who knows that the others have nothing to say.
        """
        known = replace(judged, rules=self)
        asked = [rule for rule in self.rules.values() if only is None or rule.id in only]
        told = [_told(rule, finding) for rule in asked for finding in rule.judge(known)]
        found = [replace(one, remedy=None, unmended="") for one in told] if judged.trial else told
        return tuple(sorted(found, key=lambda warning: LEVELS.index(warning.level)))


def _told(rule: Rule, finding: Finding) -> Warning:
    level = finding.level or rule.level
    bare = level != "note" and finding.remedy is None
    return Warning(
        rule.id,
        level,
        finding.subject,
        finding.message,
        rule.why,
        finding.source or f"{rule.source} ({rule.standing})",
        finding.remedy,
        unmended=UNMENDED.get(rule.id, "") if bare else "",
    )
