"""Time one full solve of a 12-hole construct, and the same frame in PyNiteFEA, in one run. Run from the project's top.

Full solve, ours: from the construct to every answer, all load cases, contact. The general program: from the same nodes
and members to displacements, one model per plane, two loads each, no contact. Both in time of this process, so that
other work on the machine does not count.
"""

from __future__ import annotations

import gc
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # 6 × 6 blocks: threads only cost

import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from app.mechanics import Construct, FractureLine, LoadCase, analyse
from app.mechanics.contact import build_interface
from app.mechanics.export import as_frame
from app.mechanics.frame import build_frame
from tests.mechanics.constructs import bridged, plate, screw, tube
from tests.mechanics.general_frame import GeneralFrame

LIMIT_MS = 2.0
LIMIT_RATIO = 200.0


def median_ms(work: Callable[[], object], rounds: int) -> float:
    taken = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        taken.append((time.process_time() - start) * 1000.0)
    return statistics.median(taken)


def moved_constructs(count: int) -> list[Construct]:
    """Like a drag: the plate stands elsewhere each time, so nothing can be remembered from one solve to the next."""
    base = bridged(0, load=LoadCase(500.0, 2000.0, 1000.0, 1000.0))
    return [replace(base, plate=plate(12, middle=200.0 + 0.01 * (k % 400))) for k in range(count)]


def general_ms(construct: Construct) -> float:
    frame = build_frame(construct)
    interface = build_interface(frame)
    plain = as_frame(frame, interface, np.zeros(len(interface.rows), dtype=bool))
    ends = {"in": (("FX", -500.0), ("MZ", -2000.0)), "out": (("MX", 1000.0), ("MY", 1000.0))}

    def solve() -> None:
        for plane, loads in ends.items():
            general = GeneralFrame(plain, plane, construct.supports, arms=(1e9,))
            for case, (direction, value) in enumerate(loads):
                general.load(plain.distal, direction, value, f"case {case}")
            general.solve()

    return median_ms(solve, 5)


def long_construct(holes: int) -> Construct:
    """A bridged gap under a plate of any length on a bone of 1.2 m."""
    bone = replace(tube(), s_mm=(0.0, 1200.0))
    half = holes // 2
    screws = tuple(screw(n + 1, int(n >= half), int(n >= half)) for n in range(holes))
    return replace(
        bridged(0),
        bone=bone,
        plate=plate(holes, middle=600.0),
        screws=screws,
        fracture_lines=(FractureLine(600.0, gap_mm=6.0),),
    )


def main() -> int:
    constructs = moved_constructs(400)
    for construct in constructs[:20]:
        analyse(construct)
    gc.collect()
    gc.freeze()  # the comparison's libraries stay loaded; collecting among them is not ours to pay
    stream = iter(constructs[20:])
    ours = median_ms(lambda: analyse(next(stream)), 300)
    general = general_ms(constructs[0])
    ratio = general / ours
    print(f"full solve, 12 holes: median {ours:.2f} ms (limit {LIMIT_MS} ms)")
    print(f"PyNiteFEA, same frame: {general:.0f} ms, {ratio:.0f} times ours (at least {LIMIT_RATIO:.0f})")
    for holes in (8, 12, 24, 48):
        construct = long_construct(holes)
        print(f"{holes:3d} holes: {median_ms(lambda c=construct: analyse(c), 60):.2f} ms")
    return 0 if ours <= LIMIT_MS and ratio >= LIMIT_RATIO else 1


if __name__ == "__main__":
    sys.exit(main())
