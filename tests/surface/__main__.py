"""``python -m tests.surface``: the long run of the state machine; says how many cases, edits and looks it took.

Further words: ``--cases`` (how many machines), ``--steps`` (edits and others for each), ``--seed``, ``--whole`` (open
every route only every so manieth time, else the sketch pages), ``--dear`` (the same for what takes long).
"""

import argparse
import sys
import tempfile
import time
from pathlib import Path

from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis.stateful import run_state_machine_as_test

from app.web import Settings, create_app
from app.web.http.timeouts import TimeLimit
from tests.surface.machine import COUNTS, Surface

# Two runs side by side on a busy machine are not what the server's own limit is for.
PATIENCE_S = 120.0


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.surface", description=__doc__)
    parser.add_argument("--cases", type=int, default=100)
    parser.add_argument("--steps", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--whole", type=int, default=1)
    parser.add_argument("--dear", type=int, default=5)
    asked = parser.parse_args()
    begun = time.monotonic()
    TimeLimit.__init__.__defaults__ = (PATIENCE_S,)
    with tempfile.TemporaryDirectory() as folder:
        app = create_app(Settings(data_dir=Path(folder)))
        with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as client:
            Surface.client, Surface.whole_every, Surface.dear_every = client, asked.whole, asked.dear
            run_state_machine_as_test(
                seed(asked.seed)(Surface),
                settings=settings(
                    max_examples=asked.cases,
                    stateful_step_count=asked.steps,
                    deadline=None,
                    database=None,
                    derandomize=False,
                    phases=(Phase.generate,),
                    suppress_health_check=list(HealthCheck),
                ),
            )
    told = ", ".join(f"{count} {what}" for what, count in COUNTS.items())
    print(f"seed {asked.seed}: {told} in {time.monotonic() - begun:.0f} s; everything opened")
    return 0


if __name__ == "__main__":
    sys.exit(main())
