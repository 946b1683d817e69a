"""A drag in one window while maps of layouts are worked out for another.

Run: ``python -m tests.bench.bench_map_beside [--pairs 16] [--moves 100] [--pause 0.5] [--elsewhere]``.
One hand drags the fracture of the bridged femur: a preview every sixteen milliseconds, or as soon as the last one is
answered, each of a position of its own. Beside it, in a process of its own, another client asks for maps of a plate of
14 holes, each under another of `LOADS` loads. These are more than are kept, so that each map is worked out from
nothing. It rests for ``--pause`` seconds after each, as a hand does that changes something and looks at what came of
it; 0 asks one after the other. Blocks with maps and without take turns, so that whatever else the machine does falls on
both; of each pair the 95th percentiles are compared. Aim: with maps at most 1.2 times that without, at the median of
all pairs. With ``--elsewhere`` the other client works the maps out itself, at the priority that they have beside the
server, which hears nothing of them: what is left then is the machine's, and no server could be quicker.
"""

import argparse
import http.client
import json
import multiprocessing
import os
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.synchronize import Event
from pathlib import Path
from urllib.parse import urlsplit

from app.assess import assess_stored, load_knowledge
from app.beside import LOWER
from app.case import parse_case
from app.layout_map.table import layout_table
from tests.serving import started

PACE_S = 0.016
LOADS = 40  # more than the server keeps maps, and fewer than it keeps assessments
MOST = 1.2
FEMUR, TIBIA = "04-femur-multifragmentary-bridge", "05-tibia-segmental-bridge"
SAMPLES = Path(__file__).parents[2] / "sample_cases"


class Client:
    """One connection that stays open."""

    def __init__(self, url: str) -> None:
        self._line = http.client.HTTPConnection(urlsplit(url).netloc, timeout=30)

    def ask(self, path: str, body: object = None) -> bytes:
        """The answer's body.

        Raises:
            RuntimeError: it is no success.
        """
        text = None if body is None else json.dumps(body)
        self._line.request("GET" if body is None else "POST", path, text, {"Content-Type": "application/json"})
        answer = self._line.getresponse()
        found = answer.read()
        if answer.status >= 300:
            message = f"{path}: {answer.status} {found[:200]!r}"
            raise RuntimeError(message)
        return found


def kept(client: Client, name: str) -> str:
    """The number of a sample, kept as a case."""
    case = json.loads((SAMPLES / f"{name}.json").read_text())
    return str(json.loads(client.ask("/api/v1/cases", case))["id"])


@dataclass(frozen=True)
class Turn:
    """When maps can be asked for, when they are wanted, and when no more will be."""

    ready: Event
    wanted: Event
    over: Event


def load(number: int) -> str:
    """One of many loads, as the rest of an address."""
    return f"loading=0,own,{100 + number},4,5,ball,ball"


def ask_for_maps(url: str, case: str, turn: Turn, pause_s: float, found: "multiprocessing.Queue[list[float]]") -> None:
    """Ask for maps while they are wanted; an own load's axial force (N) tells one from the other."""
    repeated(
        lambda number: Client(url).ask(f"/cases/{case}/map?construct=0&{load(number % LOADS)}"), turn, pause_s, found
    )


def make_maps(name: str, turn: Turn, pause_s: float, found: "multiprocessing.Queue[list[float]]") -> None:
    """Work out maps of a sample here while they are wanted."""
    os.nice(LOWER)
    knowledge = load_knowledge()
    case = parse_case((SAMPLES / f"{name}.json").read_text())
    repeated(
        lambda _: layout_table(assess_stored(case, knowledge, mechanics=False), 0, knowledge), turn, pause_s, found
    )


def repeated(
    make: Callable[[int], object], turn: Turn, pause_s: float, found: "multiprocessing.Queue[list[float]]"
) -> None:
    """Do it again and again while it is wanted; tell at the end how long each took, s."""
    number, taken = 0, []
    make(number)
    turn.ready.set()
    while not turn.over.is_set():
        if not turn.wanted.wait(0.1):
            continue
        number += 1
        begun = time.perf_counter()
        make(number)
        taken.append(time.perf_counter() - begun)
        time.sleep(pause_s)
    found.put(taken)


def block_ms(client: Client, case: str, number: int, moves: int) -> list[float]:
    """How long each preview of a sweep took, ms; positions of no two blocks are the same."""
    taken = []
    for n in range(moves):
        begun = time.perf_counter()
        position = 150.0 + 80.0 * n / moves + number * 0.0173
        edit = {"op": "move_fracture", "target": 0, "line": 0, "position_mm": position}
        client.ask(f"/api/v1/cases/{case}/preview", {"edit": edit, "seq": number * moves + n})
        taken.append((time.perf_counter() - begun) * 1000.0)
        time.sleep(max(0.0, begun + PACE_S - time.perf_counter()))
    return taken


def p95(found: list[float]) -> float:
    return sorted(found)[int(0.95 * len(found))]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--pairs", type=int, default=16)
    parser.add_argument("--moves", type=int, default=100)
    parser.add_argument("--pause", type=float, default=0.5)
    parser.add_argument("--elsewhere", action="store_true")
    options = parser.parse_args()
    spawn = multiprocessing.get_context("spawn")
    with tempfile.TemporaryDirectory() as folder, started(Path(folder) / "data") as (url, _):
        client = Client(url)
        case, other = kept(client, FEMUR), kept(client, TIBIA)
        turn, found = Turn(spawn.Event(), spawn.Event(), spawn.Event()), spawn.Queue()
        work, of = (make_maps, (TIBIA,)) if options.elsewhere else (ask_for_maps, (url, other))
        asking = spawn.Process(target=work, args=(*of, turn, options.pause, found))
        asking.start()
        block_ms(client, case, 0, options.moves)
        while not turn.ready.wait(0.1):
            block_ms(client, case, 0, options.moves)
        blocks: dict[bool, list[list[float]]] = {True: [], False: []}
        for number in range(1, 2 * options.pairs + 1):
            beside = (number % 4) in (0, 1)  # on off, off on, …
            (turn.wanted.set if beside else turn.wanted.clear)()
            time.sleep(0.3)  # so that the last map is done, or the first one is begun
            blocks[beside].append(block_ms(client, case, number, options.moves))
        turn.over.set()
        maps = found.get(timeout=60)
        asking.join()
    return tell(blocks, maps)


def tell(blocks: dict[bool, list[list[float]]], maps: list[float]) -> int:
    """Print what was found; 1 where the aim is missed."""
    for beside, name in ((False, "alone"), (True, "beside maps")):
        whole = [one for block in blocks[beside] for one in block]
        print(f"{name:12s} {len(whole)} previews, median {statistics.median(whole):.1f} ms, p95 {p95(whole):.1f} ms")
    print(f"{len(maps)} maps of 14 holes, median {1000 * statistics.median(maps):.0f} ms")
    ratios = sorted(p95(on) / p95(off) for on, off in zip(blocks[True], blocks[False], strict=True))
    middle, quarter = statistics.median(ratios), len(ratios) // 4
    spread = f"quartiles {ratios[quarter]:.2f} to {ratios[-quarter - 1]:.2f}"
    print(f"p95 beside maps ÷ alone, by pairs: {middle:.2f} ({spread}); aim: at most {MOST}")
    return 1 if middle > MOST else 0


if __name__ == "__main__":
    raise SystemExit(main())
