"""How long a plan sheet takes, and the order of insertion: ``python -m tests.bench.bench_sheet``."""

import statistics
import time
from collections.abc import Callable

from app.order import plan, states
from tests.order.constructs import bridged_ulna, oblique_radius
from tests.sheet.pages import assessed, crowded, sheet


def median_ms(work: Callable[[], object], rounds: int) -> float:
    """Median duration, ms, after one run to warm up."""
    work()
    spent = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        spent.append((time.perf_counter() - start) * 1000)
    return statistics.median(spent)


def main() -> None:
    one, two, full = assessed(oblique_radius()), assessed(oblique_radius(), bridged_ulna()), crowded()
    layout = full.constructs[0].layout
    print(f"sheet, 8-hole radius           {median_ms(lambda: sheet(one), 9):8.1f} ms")
    print(f"sheet, forearm, two bones      {median_ms(lambda: sheet(two), 9):8.1f} ms")
    print(f"sheet, 14 holes, 20 warnings   {median_ms(lambda: sheet(full), 9):8.1f} ms")
    print(f"steps, 16 screws               {median_ms(lambda: plan(layout), 99):8.2f} ms")
    print(f"states, 16 screws              {median_ms(lambda: states(layout), 99):8.2f} ms")


if __name__ == "__main__":
    main()
