"""The validation page: the model beside closed forms, a general frame program, solid elements and bench tests."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from typing import TYPE_CHECKING

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from app.catalogue.unknowns import DRAWS, FACTORS, unknowns
from app.mechanics.agreement import RANDOM_CONSTRUCTS, RELATIVE_TOLERANCE, SMALL_GAP_CONSTRUCTS
from app.mechanics.document import ESTIMATE
from app.web.state import StateDep

if TYPE_CHECKING:
    from app.mechanics.validation.bench_cases import BenchCase
    from app.mechanics.validation.bench_runs import BenchRow
    from app.mechanics.validation.closed_forms import ClosedForm
    from app.mechanics.validation.solids import Quantity, SolidRow

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

MISSES = ("outside", "trend fails")


@dataclass(frozen=True, slots=True)
class Told:
    """One figure of a bench test in words; ``paper`` says in words what a trend asks."""

    quantity: str
    unit: str
    paper: str
    band: str
    verdict: str
    miss: bool


@dataclass(frozen=True, slots=True)
class Bench:
    """One bench test with its figures."""

    case: "BenchCase"
    rows: tuple[Told, ...]


@dataclass(frozen=True, slots=True)
class OfSolids:
    """One quantity of all solid constructs: model ÷ solid for each, and why those outside lie there."""

    quantity: "Quantity"
    rows: "tuple[SolidRow, ...]"

    @property
    def causes(self) -> dict[str, str]:
        """Each cause with the constructs that it stands for, as "G, H"."""
        letters: dict[str, list[str]] = {}
        for row in self.rows:
            if row.cause is not None:
                letters.setdefault(row.cause, []).append(row.solid.letter)
        return {", ".join(of): cause for cause, of in letters.items()}


@dataclass(frozen=True, slots=True)
class Validation:
    """Everything on the page."""

    forms: "tuple[ClosedForm, ...]"
    solids: tuple[OfSolids, ...]
    benches: tuple[Bench, ...]

    @property
    def solid_misses(self) -> int:
        """How many figures lie outside what a frame is asked for beside the solids."""
        return sum(row.cause is not None for one in self.solids for row in one.rows)

    @property
    def figures(self) -> int:
        """How many figures of bench tests there are."""
        return sum(len(bench.rows) for bench in self.benches)

    @property
    def misses(self) -> int:
        """How many of them the model misses."""
        return sum(row.miss for bench in self.benches for row in bench.rows)


@lru_cache(maxsize=1)
def validation() -> Validation:
    """Worked out once, when first asked for: some hundreds of solves take about a second."""
    # Nothing else needs them, and no first page should wait for them to load.
    from app.mechanics.validation.bench_runs import run_bench_cases
    from app.mechanics.validation.closed_forms import closed_forms
    from app.mechanics.validation.solids import run_solids

    runs = groupby(run_bench_cases(), key=lambda row: row.case.number)
    benches = []
    for _, rows in runs:
        of_case = tuple(rows)
        benches.append(Bench(of_case[0].case, tuple(_told(row) for row in of_case)))
    beside = groupby(run_solids(), key=lambda row: row.quantity)
    solids = tuple(OfSolids(quantity, tuple(rows)) for quantity, rows in beside)
    return Validation(closed_forms(), solids, tuple(benches))


def _told(row: "BenchRow") -> Told:
    paper = "a trend, see tolerance" if row.paper is None else _span(row.paper)
    return Told(row.quantity, row.unit, paper, _span(row.band), row.verdict, row.verdict in MISSES)


def _span(ends: tuple[float, float]) -> str:
    low, high = (f"{float(f'{end:.3g}'):,.10g}" for end in ends)
    return low if low == high else f"{low} to {high}"


@router.get("/validation")
def validation_page(state: StateDep) -> HTMLResponse:
    """How far the mechanics can be trusted."""
    values = {
        "found": validation(),
        "constructs": RANDOM_CONSTRUCTS,
        "small_gaps": SMALL_GAP_CONSTRUCTS,
        "tolerance": RELATIVE_TOLERANCE,
        "estimate": ESTIMATE,
        "unknowns": unknowns(),
        "factors": FACTORS,
        "draws": DRAWS,
    }
    return HTMLResponse(state.pages.html("validation.html", **values))
