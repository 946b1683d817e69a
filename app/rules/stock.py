"""Is what the case asks for still in stock?"""

from collections.abc import Iterator

from app.case.edits import ReplaceConstruct
from app.rules.edits import remedy
from app.rules.registry import Finding, Registry, RuleInput

STOCK_RULES = Registry()
PART = {"plate": "plate", "bone": "bone"}


@STOCK_RULES.rule(
    "in-stock",
    "stop",
    says="The plate and the screws that the case asks for are in the stock that this server was given.",
    why="A plan is carried out with what is on the shelf. What is drawn here is the nearest that is in stock, not what "
    "was planned; nothing of the stored case has been changed.",
    source="design decision, no source",
    standing="common practice",
    on="none",
)
def in_stock(judged: RuleInput) -> Iterator[Finding]:
    """What the stored construct asks for and can't have; the drawing shows what stands in for it."""
    if not judged.missing:
        return
    series, holes = judged.layout.series, judged.construct.plate.holes
    subject = tuple(dict.fromkeys(PART.get(fault.path.split(".")[0], "plate") for fault in judged.missing))
    told = "; ".join(fault.message for fault in judged.missing)
    where = judged.construct.surface
    message = f"Not as planned: {told}. Shown in its place: {series.label} with {holes} holes, on the {where} surface."
    shown = ReplaceConstruct(target=judged.target, value=judged.construct)
    yield Finding(message, subject, None, remedy("Take what is shown", [shown]))
