"""What a key costs an edit. Run: ``python -m tests.bench.bench_write``; compare the ratio, never the times.

Edits with and without a key are sent in turn, to one case each, through the whole application but the network. A third
series, without keys once more, shows how far two equal series lie apart.
"""

import statistics
import sys
import tempfile
import time
from pathlib import Path

from fastapi.testclient import TestClient

from app.web import Settings, create_app
from tests.cases import humerus

EDITS = 300
WARM_UP = 20


def edit(client: TestClient, case: str, number: int, keyed: bool) -> float:
    """One edit; seconds."""
    body = {"edit": {"op": "set_gap", "target": 0, "gap_mm": 0.5 + number % 3}}
    headers = {"If-Match": f'"{number}"', **({"Idempotency-Key": f'"{case}-{number}"'} if keyed else {})}
    began = time.perf_counter()
    answer = client.post(f"/api/v1/cases/{case}/edits", json=body, headers=headers)
    took = time.perf_counter() - began
    assert answer.status_code == 200, answer.text
    return took


def main() -> None:
    """Measure, and say the ratios."""
    with tempfile.TemporaryDirectory() as folder:
        app = create_app(Settings(data_dir=Path(folder)))
        with TestClient(app, base_url="http://127.0.0.1") as client:
            cases = [client.post("/api/v1/cases", json=humerus()).json()["id"] for _ in range(3)]
            series: list[list[float]] = [[], [], []]  # plain, plain again, with a key
            for number in range(1, WARM_UP + EDITS):
                for index in range(3):
                    at = (index + number) % 3
                    series[at].append(edit(client, cases[at], number, keyed=at == 2))
    plain, again, keyed = (statistics.median(times[WARM_UP:]) for times in series)
    sys.stdout.write(f"an edit: {1000 * plain:.1f} ms (median of {EDITS})\n")
    sys.stdout.write(f"with a key: × {keyed / plain:.3f}; without one, once more: × {again / plain:.3f}\n")


if __name__ == "__main__":
    main()
