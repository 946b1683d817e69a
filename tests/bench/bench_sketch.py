"""How long the server takes from a case to its drawing. Run: ``python -m tests.bench.bench_sketch``.

The construct has 14 holes with screws of every role in nine of them, as many as a femur plate commonly takes, and an
oblique fracture that is dragged. A full one, with all holes but one filled, two separate lag screws and two lines, is
measured too. Aim: assess (mechanics included) and draw together 10 ms at the median. Without the mechanics, 6 ms, the
drawing alone 4 ms. In time of this process, so that other work on the machine does not count.
"""

import statistics
import sys
import time
from collections.abc import Callable

from app.assess import assess, load_knowledge
from app.case import apply
from app.case.edits import MoveFracture
from app.case.models import Bone, Case, Construct, Fracture, FractureLine, Hole, LagScrew, Plate, Role
from app.drawing import draw_sketch

RUNS = 300
LIMIT_MS = 10.0
ROLES: tuple[Role, ...] = ("neutral", "locking-2", "eccentric", "lag", "locking-1")


OBLIQUE = FractureLine(position_mm=205, obliquity_deg=35)
SECOND = FractureLine(position_mm=280, obliquity_deg=-20, zone_mm=12)
BESIDE = (
    LagScrew(position_mm=200, tilt_deg=25, screw="cortex-4.5"),
    LagScrew(position_mm=210, tilt_deg=25, screw="cortex-4.5"),
)


def case(empty: tuple[int, ...], lines: tuple[FractureLine, ...], beside: tuple[LagScrew, ...]) -> Case:
    holes = tuple(Hole(role="empty" if n in empty else ROLES[n % len(ROLES)]) for n in range(14))
    construct = Construct(
        bone=Bone(name="femur"),
        fracture=Fracture(lines=lines),
        principle="protection",
        plate=Plate(series="large-broad-4.5", holes=14, centre_mm=210),
        holes=holes,
        lag_screws=beside,
    )
    return Case(format="fishplate-case/2", title="Fourteen holes", constructs=(construct,))


def dragged(one: Case) -> list[Case]:
    """The case while its last line is dragged, 0.1 mm a move: no two drawings are the same."""
    line = len(one.constructs[0].fracture.lines) - 1
    start = one.constructs[0].fracture.lines[line].position_mm
    edits = (MoveFracture(op="move_fracture", line=line, position_mm=start + 0.1 * n) for n in range(RUNS))
    return [apply(one, edit) for edit in edits]


def median_ms(work: Callable[[int], object]) -> float:
    times = []
    for n in range(RUNS):
        begin = time.process_time()
        work(n)
        times.append(time.process_time() - begin)
    return statistics.median(times) * 1000


def report(name: str, one_case: Case) -> float:
    knowledge = load_knowledge()
    moves = dragged(one_case)
    found = [assess(move, knowledge).constructs[0] for move in moves]
    one = found[0]
    text = draw_sketch(one)
    print(f"{name}: {len(text) / 1024:.0f} kB, {text.count('<') - text.count('</')} elements")
    assert one.mechanics is not None
    assert one.mechanics.unstable is None
    plain = median_ms(lambda n: assess(moves[n], knowledge, mechanics=False))
    whole = median_ms(lambda n: assess(moves[n], knowledge))
    print(f"  assess           {whole:6.2f} ms, {plain:.2f} ms without mechanics")
    print(f"  draw             {median_ms(lambda n: draw_sketch(found[n])):6.2f} ms")
    both = median_ms(lambda n: draw_sketch(assess(moves[n], knowledge).constructs[0]))
    print(f"  assess and draw  {both:6.2f} ms")
    return both


if __name__ == "__main__":
    usual = report("usual", case((2, 5, 6, 8, 11), (OBLIQUE,), ()))
    report("full", case((6,), (OBLIQUE, SECOND), BESIDE))
    sys.exit(0 if usual <= LIMIT_MS else 1)
