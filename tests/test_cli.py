"""The command line as a user meets it: exit status, what goes to stdout, what to stderr."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
import xml.etree.ElementTree as ET
from pathlib import Path

import jsonschema
import pytest

from app.cli import main
from app.document import schema

ROOT = Path(__file__).parent.parent
SAMPLES = sorted((ROOT / "sample_cases").glob("*.json"))


def test_there_are_at_least_eight_samples() -> None:
    """Covering compression with lag, pre-bend, protection, bridging, segmental, wedge, poor bone, two bones."""
    cases = [json.loads(path.read_text(encoding="utf-8")) for path in SAMPLES]
    assert len(cases) >= 8
    constructs = [one for case in cases for one in case["constructs"]]
    assert {one["principle"] for one in constructs} == {"compression", "protection", "bridging"}
    assert any(one["plate"]["prebend_mm"] > 0 for one in constructs)
    assert any(len(one["fracture"]["lines"]) > 1 for one in constructs)
    assert any(one["fracture"]["wedge"] for one in constructs)
    assert any(hole["role"] == "lag" for one in constructs for hole in one["holes"])
    assert any(case["bone_quality"] == "poor" for case in cases)
    assert any({one["bone"]["name"] for one in case["constructs"]} == {"radius", "ulna"} for case in cases)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_samples_are_assessed_and_match_both_schemas(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """jsonschema, a general reference library, checks both documents."""
    assert main(["assess", str(path)]) == 0
    document = json.loads(capsys.readouterr().out)
    jsonschema.validate(document, schema("assessment"))
    jsonschema.validate(json.loads(path.read_text(encoding="utf-8")), schema("case"))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_samples_claim_nothing_they_do_not_do(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["assess", str(path)])
    document = json.loads(capsys.readouterr().out)
    grave = [w["rule"] for one in document["constructs"] for w in one["warnings"] if w["level"] != "note"]
    assert bool(grave) == ("faults" in path.stem)


def test_an_invalid_case_ends_with_2_and_every_fault(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    document = json.loads(SAMPLES[0].read_text(encoding="utf-8"))
    document["title"] = ""
    document["constructs"][0]["fracture"]["lines"][0]["obliquity_deg"] = 99
    file = tmp_path / "bad.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    assert main(["assess", str(file)]) == 2
    streams = capsys.readouterr()
    assert streams.out == ""
    assert "title" in streams.err
    assert "constructs.0.fracture.lines.0.obliquity_deg" in streams.err


def test_what_is_not_made_ends_with_2_and_says_what_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    document = json.loads(SAMPLES[0].read_text(encoding="utf-8"))
    document["constructs"][0]["plate"]["series"] = "gold-9.9"
    file = tmp_path / "odd.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    assert main(["assess", str(file)]) == 2
    assert "small-3.5" in capsys.readouterr().err


def test_a_missing_file_ends_with_2(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["assess", "nowhere.json"]) == 2
    assert "nowhere.json" in capsys.readouterr().err


@pytest.mark.parametrize("theme", ["light", "dark", "print"])
def test_draw_writes_a_drawing_that_stands_alone(tmp_path: Path, theme: str) -> None:
    out = tmp_path / "out.svg"
    assert main(["draw", str(SAMPLES[0]), "-o", str(out), "--theme", theme]) == 0
    root = ET.fromstring(out.read_text(encoding="utf-8"))
    assert root.tag.endswith("svg")


def test_rules_tells_every_rule_with_source_and_thresholds(capsys: pytest.CaptureFixture[str]) -> None:
    from app.rules import all_rules

    assert main(["rules"]) == 0
    told = capsys.readouterr().out
    assert all(f"{rule.id} [" in told for rule in all_rules())
    assert "lag-angle" in told
    assert "sliding_deg = 20" in told


def test_an_own_stock_adds_a_series(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stock = tmp_path / "stock.toml"
    stock.write_text('[series."small-3.5"]\nholes_made = [8]\n', encoding="utf-8")
    document = json.loads(next(p for p in SAMPLES if "radius" in p.stem).read_text(encoding="utf-8"))
    file = tmp_path / "case.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    assert main(["--stock", str(stock), "assess", str(file)]) == 2
    assert "made with 8" in capsys.readouterr().err


@pytest.mark.parametrize("which", ["case", "assessment"])
def test_the_shipped_schema_is_the_codes(which: str) -> None:
    shipped = ROOT / "static" / "schema" / f"fishplate-{which}-1.json"
    assert json.loads(shipped.read_text(encoding="utf-8")) == schema(which)


def test_serve_answers_and_stops(tmp_path: Path) -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = [sys.executable, "-m", "app.cli", "serve", "--port", str(port), "--data", str(tmp_path / "data")]
    process = subprocess.Popen(words, cwd=ROOT, stderr=subprocess.PIPE, env=dict(os.environ))
    try:
        page = _first_page(port)
        assert "Not a medical device" in page
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=10)
    finally:
        process.kill()
        process.communicate()


def _first_page(port: int) -> str:
    for _ in range(200):
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/") as answer:
                return str(answer.read().decode())
        except OSError:
            time.sleep(0.05)
    pytest.fail("the server did not answer within 10 s")
