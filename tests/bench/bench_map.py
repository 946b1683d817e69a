"""Time the map of all layouts beside single solutions, in one run. Run from the project's top.

10, 12, 14 and 16 holes that may be filled: bridged gaps that stay open, gaps that close under the load, and closed
lines with an eccentric screw, without and with a lag screw; ball joints and held ends. Each map with every figure, in
time of this process, as a multiple of one single solution of the same construct with all its screws. Memory is the most
that one map of the last row takes, by tracemalloc (numpy tells it what it takes).
"""

from __future__ import annotations

import gc
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import statistics
import sys
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass, replace

from app.mechanics import Construct, FractureLine, Friction, LagScrew, LoadCase, Supports, analyse
from app.mechanics.layouts.solve import layout_map
from tests.mechanics.constructs import STEEL_MPA, plate, screw, tube

LOAD = LoadCase(axial_n=500.0, bending_nmm=2000.0, torsion_nmm=1000.0)
HELD = Supports("held", "held")
MIDDLE = 300.0
MOST_MB = 300.0


@dataclass(frozen=True)
class Row:
    """One kind of construct, and how many single solutions its map of 14 holes may take."""

    name: str
    gap_mm: float
    clamped: bool
    lag: bool
    limit: float


ROWS = (
    Row("open", 6.0, False, False, 12.0),
    Row("closing", 0.05, False, False, 50.0),
    Row("eccentric", 0.0, True, False, 50.0),
    Row("lag", 0.0, True, True, 80.0),
)


def construct(row: Row, holes: int, supports: Supports) -> Construct:
    """A plate with a screw in every hole over a line in the middle of a bone of 600 mm."""
    half = holes // 2
    kind = "clamped" if row.clamped else "locking-2"
    force = {"clamp_force_n": 1500.0} if row.clamped else {}
    screws = [screw(n + 1, int(n >= half), int(n >= half), kind, **force) for n in range(holes)]  # type: ignore[arg-type]
    if row.clamped:
        screws[half] = replace(screws[half], shift_mm=-1.0, compression_limit_n=600.0)
    line = FractureLine(MIDDLE, obliquity_deg=30.0 if row.clamped else 0.0, gap_mm=row.gap_mm)
    lag = LagScrew("lag", MIDDLE - 6.0, MIDDLE + 6.0, 0, 1, 2.4, 3.5, 1.25, STEEL_MPA, 800.0)
    return Construct(
        bone=tube(2.0 * MIDDLE),
        plate=plate(holes, middle=MIDDLE, standoff=0.0 if row.clamped else 1.0),
        screws=tuple(screws),
        fracture_lines=(line,),
        friction=Friction(plate_bone=0.35, bone_bone=0.4),
        load=LOAD,
        supports=supports,
        lag_screws=(lag,) if row.lag else (),
    )


def taken_ms(works: tuple[Callable[[], object], ...], rounds: int) -> list[float]:
    """Median time of this process for each of some pieces of work, which take turns."""
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(rounds):
        for work, times in zip(works, taken, strict=True):
            start = time.process_time()
            work()
            times.append((time.process_time() - start) * 1000.0)
    return [statistics.median(times) for times in taken]


def memory_mb(work: Callable[[], object]) -> float:
    """The most that a piece of work takes at once."""
    tracemalloc.start()
    work()
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most / 1e6


def main() -> int:
    gc.collect()
    gc.freeze()
    over = False
    print("all layouts: milliseconds, and as a multiple of one single solution (limit at 14 holes, ball joints)")
    for row in ROWS:
        for supports in (Supports(), HELD):
            cells = []
            for holes in (10, 12, 14, 16):
                one = construct(row, holes, supports)
                analyse(one)
                layout_map(one)
                works = (lambda c=one: analyse(c), lambda c=one: layout_map(c))
                single, whole = taken_ms(works, 15 if holes < 16 else 5)
                cells.append(f"{holes}: {whole:6.0f} ms {whole / single:5.0f}×")
                if supports == Supports() and holes == 14:
                    over |= whole / single > row.limit
                over |= holes == 16 and whole > 1000.0
            print(f"{row.name:10s} {supports.proximal:5s} (≤ {row.limit:.0f}×)  " + "   ".join(cells))
    most = memory_mb(lambda: layout_map(construct(ROWS[-1], 16, HELD)))
    print(f"memory, 16 holes with a lag, held ends: {most:.0f} MB (limit {MOST_MB:.0f})")
    return 1 if over or most > MOST_MB else 0


if __name__ == "__main__":
    sys.exit(main())
