"""The command line as a user meets it: exit status, what goes to stdout, what to stderr."""

import io
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

from app.case import parse_case
from app.cli import main
from app.document import schema
from app.store import Store

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


def run(*words: str, **how: object) -> subprocess.CompletedProcess[bytes]:
    """The command line as its own process, as a shell starts it."""
    command = [sys.executable, "-m", "app.cli", *words]
    return subprocess.run(command, cwd=ROOT, check=False, timeout=60, **{"capture_output": True, **how})  # type: ignore[call-overload,no-any-return]


class TestSeveralFiles:
    """JSON Lines (jsonlines.org): UTF-8, each line a JSON value, a line feed after each."""

    @pytest.fixture
    def faulty(self, tmp_path: Path) -> Path:
        file = tmp_path / "faulty.json"
        file.write_text("{}", encoding="utf-8")
        return file

    def test_each_file_is_a_line_that_names_it(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["assess", *map(str, SAMPLES)]) == 0
        lines = capsys.readouterr().out.splitlines()
        told = [json.loads(line) for line in lines]
        assert [one["file"] for one in told] == [str(path) for path in SAMPLES]
        for one in told:
            jsonschema.validate(one["assessment"], schema("assessment"))

    def test_a_faulty_one_is_named_and_the_others_are_done(
        self, faulty: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        words = [str(faulty), str(SAMPLES[0]), "nowhere.json", str(SAMPLES[1])]
        assert main(["assess", *words]) == 2
        streams = capsys.readouterr()
        assert [json.loads(line)["file"] for line in streams.out.splitlines()] == [str(SAMPLES[0]), str(SAMPLES[1])]
        faults = streams.err.splitlines()
        assert {fault.split(": ")[0] for fault in faults} == {str(faulty), "nowhere.json"}
        assert any("title" in fault for fault in faults)

    def test_lines_are_had_for_a_single_file_too(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["assess", "--lines", str(SAMPLES[0])]) == 0
        (line,) = capsys.readouterr().out.splitlines()
        assert json.loads(line)["file"] == str(SAMPLES[0])

    @pytest.mark.parametrize(("command", "ending", "begins"), [("draw", "svg", b"<"), ("sheet", "pdf", b"%PDF-")])
    def test_each_goes_into_the_folder_under_its_name(
        self, tmp_path: Path, command: str, ending: str, begins: bytes
    ) -> None:
        out = tmp_path / "made"
        assert main([command, str(SAMPLES[0]), str(SAMPLES[1]), "-o", str(out)]) == 0
        made = sorted(out.iterdir())
        assert [path.name for path in made] == [f"{path.stem}.{ending}" for path in SAMPLES[:2]]
        assert all(path.read_bytes().startswith(begins) for path in made)

    def test_what_is_in_the_folder_is_kept_unless_forced(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        mine = tmp_path / f"{SAMPLES[0].stem}.svg"
        mine.write_text("mine", encoding="utf-8")
        words = ["draw", str(SAMPLES[0]), "-o", str(tmp_path)]
        assert main(words) == 2
        assert "--force" in capsys.readouterr().err
        assert mine.read_text(encoding="utf-8") == "mine"
        assert main([*words, "--force"]) == 0
        assert mine.read_text(encoding="utf-8") != "mine"

    def test_two_files_of_one_name_do_not_write_over_each_other(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        other = tmp_path / SAMPLES[0].name
        other.write_bytes(SAMPLES[1].read_bytes())
        assert main(["draw", str(SAMPLES[0]), str(other), "-o", str(tmp_path / "made")]) == 2
        assert str(other) in capsys.readouterr().err

    def test_several_need_a_folder(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        out = tmp_path / "one.svg"
        out.write_text("mine", encoding="utf-8")
        for name in (str(out), "-"):
            assert main(["draw", str(SAMPLES[0]), str(SAMPLES[1]), "-o", name]) == 2
            assert "folder" in capsys.readouterr().err
        assert out.read_text(encoding="utf-8") == "mine"


def test_the_case_itself_is_not_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    case = tmp_path / "case.json"
    case.write_bytes(SAMPLES[0].read_bytes())
    assert main(["draw", str(case), "-o", str(tmp_path / "." / "case.json")]) == 2
    assert "itself" in capsys.readouterr().err
    assert case.read_bytes() == SAMPLES[0].read_bytes()


class TestStreams:
    """Standard streams as POSIX has them: they may be closed, full, or cut off by the reader."""

    def test_a_case_is_read_from_standard_input(self) -> None:
        done = run("assess", "-", input=SAMPLES[0].read_bytes())
        assert (done.returncode, done.stderr) == (0, b"")
        assert done.stdout == run("assess", str(SAMPLES[0])).stdout

    def test_a_drawing_goes_to_standard_output_in_utf_8(self) -> None:
        """XML without a declaration of another encoding is UTF-8 (XML 1.0, 4.3.3), whatever the terminal's is."""
        done = run(
            "draw", "-", "-o", "-", input=SAMPLES[0].read_bytes(), env={**os.environ, "PYTHONIOENCODING": "ascii"}
        )
        assert done.returncode == 0
        assert ET.fromstring(done.stdout).tag.endswith("svg")

    def test_faults_of_standard_input_say_so(self) -> None:
        done = run("assess", "-", input=b"{")
        assert done.returncode == 2
        assert done.stderr.startswith(b"standard input: not valid JSON")

    def test_it_can_be_read_only_once(self) -> None:
        assert b"once" in run("assess", "-", "-", input=b"{}").stderr

    @pytest.mark.parametrize("word", ["assess", "rules", "schema"])
    def test_a_reader_that_stops_gets_no_traceback(self, word: str) -> None:
        """A shell tells of a program ended by SIGPIPE, signal 13, as 128 + 13 (POSIX shell language, 2.8.2)."""
        more = {"assess": [str(SAMPLES[0])], "rules": [], "schema": ["case"]}[word]
        reading, writing = os.pipe()
        os.close(reading)
        done = run(word, *more, capture_output=False, stdout=writing, stderr=subprocess.PIPE)
        os.close(writing)
        assert (done.returncode, done.stderr) == (141, b"")

    def test_a_full_disk_is_told(self) -> None:
        """``/dev/full`` always answers ENOSPC (Linux, full(4))."""
        with Path("/dev/full").open("wb") as full:
            done = run("assess", *map(str, SAMPLES), capture_output=False, stdout=full, stderr=subprocess.PIPE)
        assert done.returncode == 2
        assert done.stderr == b"standard output: No space left on device\n"

    def test_a_closed_output_and_input_are_told(self) -> None:
        words = f"{sys.executable} -m app.cli assess"
        out = subprocess.run(f"{words} {SAMPLES[0]} >&-", shell=True, cwd=ROOT, capture_output=True, check=False)
        assert (out.returncode, out.stderr) == (2, b"standard output: is closed\n")
        given = subprocess.run(f"{words} - <&-", shell=True, cwd=ROOT, capture_output=True, check=False)
        assert (given.returncode, given.stderr) == (2, b"standard input: is closed\n")


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("folder", None, "is a folder"),
        ("latin.json", '{"title": "Schädel"}'.encode("latin-1"), "not text in UTF-8: byte 15 "),
        ("large.json", b" " * 1_000_001, "larger than 1 MB"),
        ("deep.json", b"[" * 100_000, "not valid JSON"),
        ("empty.json", b"", "not valid JSON"),
    ],
)
def test_what_cannot_be_read_is_a_sentence_with_its_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, content: bytes | None, says: str
) -> None:
    file = tmp_path / name
    file.mkdir() if content is None else file.write_bytes(content)
    assert main(["assess", str(file)]) == 2
    (told,) = capsys.readouterr().err.splitlines()
    assert told.startswith(f"{file}: ")
    assert says in told


@pytest.mark.parametrize("word", ["serve", "assess", "draw", "sheet", "rules", "schema"])
def test_help_tells_what_comes_of_it_with_an_example_and_the_exit_status(
    word: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main([word, "--help"])
    assert ended.value.code == 0
    told = capsys.readouterr().out
    assert f"example:\n  fishplate {word}" in told
    assert "exit status:" in told
    assert all(len(line) <= 120 for line in told.splitlines())


@pytest.mark.parametrize("words", [["assess", str(SAMPLES[0])], ["draw", str(SAMPLES[0]), "-o", "-"]])
def test_a_command_loads_only_what_it_needs(words: list[str]) -> None:
    """No timed test: what a server, a database or the typesetter needs takes longer to load than a case to assess."""
    code = f"import sys; from app.cli import main; main({words!r}); print(*sys.modules, file=sys.stderr)"
    loaded = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    modules = set(loaded.stderr.split())
    assert "app.assess" in modules
    unwanted = {"fastapi", "starlette", "uvicorn", "sqlalchemy", "alembic", "jinja2", "typst"}
    if words[0] == "assess":
        unwanted |= {"svgwrite", "app.drawing"}
    assert not modules & unwanted


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


@pytest.mark.parametrize(
    ("which", "name"),
    [("case", "fishplate-case-2"), ("assessment", "fishplate-assessment-2"), ("map", "fishplate-map-1")],
)
def test_the_shipped_schema_is_the_codes(which: str, name: str) -> None:
    shipped = ROOT / "static" / "schema" / f"{name}.json"
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


def test_serve_says_where_it_cannot_keep_cases(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").touch()
    assert main(["serve", "--data", str(tmp_path / "file" / "data")]) == 2
    (told,) = capsys.readouterr().err.splitlines()
    assert told.startswith(f"--data {tmp_path / 'file' / 'data'}: ")


def _first_page(port: int) -> str:
    for _ in range(200):
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/") as answer:
                return str(answer.read().decode())
        except OSError:
            time.sleep(0.05)
    pytest.fail("the server did not answer within 10 s")


@pytest.mark.parametrize(
    "content", [b"SQLite format 3\x00" + b"\xff" * 5000, b"no database at all, but a shopping list " * 99]
)
def test_a_damaged_database_is_a_sentence_at_the_start(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "fishplate.db").write_bytes(content)
    words = [sys.executable, "-m", "app.cli", "serve", "--port", "0", "--data", str(tmp_path)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "the database is damaged" in done.stderr.lower()
    assert "copy from before" in done.stderr


# Backup and restore


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("DATA", "DATABASE_URL"):
        monkeypatch.setenv(f"FISHPLATE_{name}", "")
    store = Store(f"sqlite:///{tmp_path}/data/fishplate.db")
    store.create(parse_case(SAMPLES[0].read_bytes()), "New")
    store.close()
    return tmp_path / "data"


def test_backup_and_restore_by_the_command_line(
    library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, elsewhere = str(tmp_path / "b.db"), tmp_path / "new"
    assert main(["backup", "--data", str(library), file]) == 0
    assert "1 cases, 1 revisions" in capsys.readouterr().err
    assert main(["backup", "--data", str(library), file]) == 2
    assert "b.db: is there already; name another file, or give --force" in capsys.readouterr().err
    assert main(["restore", "--data", str(elsewhere), file]) == 0
    opened = Store(f"sqlite:///{elsewhere}/fishplate.db")
    assert len(opened.listing()) == 1
    opened.close()
    # Nobody sits at the terminal, so nobody can say yes.
    assert main(["restore", "--data", str(elsewhere), file]) == 2
    assert "--force" in capsys.readouterr().err
    # Somebody's faulty tables are no matter here.
    assert main(["--stock", str(tmp_path / "none.toml"), "restore", "--data", str(elsewhere), "--force", file]) == 0
    assert len(list(elsewhere.glob("fishplate-before-*.db"))) == 1


@pytest.mark.parametrize(("answer", "status"), [("y\n", 0), ("n\n", 2), ("\n", 2)])
def test_restoring_over_a_library_asks_at_the_terminal(
    library: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, answer: str, status: int
) -> None:
    main(["backup", "--data", str(library), str(tmp_path / "b.db")])
    terminal = io.StringIO(answer)
    terminal.isatty = lambda: True  # type: ignore[method-assign]
    monkeypatch.setattr("sys.stdin", terminal)
    assert main(["restore", "--data", str(library), str(tmp_path / "b.db")]) == status
    assert bool(list(library.glob("fishplate-before-*.db"))) == (status == 0)


def test_on_postgresql_backup_names_its_tools(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FISHPLATE_DATABASE_URL", "postgresql://db/plates")
    for command in ("backup", "restore"):
        assert main([command, str(tmp_path / "b.db")]) == 2
        assert "pg_dump" in capsys.readouterr().err


def test_map_prints_every_layout_of_one_construct(capsys: pytest.CaptureFixture[str]) -> None:
    clavicle = str(next(p for p in SAMPLES if "clavicle" in p.stem))
    assert main(["map", clavicle, "--csv"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 1 + 2**7
    assert lines[0].startswith("layout,holes,screws,state,axial_stiffness_n_per_mm,")
    assert main(["map", clavicle, "--held", "--stage", "partial"]) == 0
    document = json.loads(capsys.readouterr().out)
    jsonschema.validate(document, schema("map"))
    assert document["supports"] == {"proximal": "held", "distal": "held"}


def test_map_says_which_constructs_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["map", str(next(p for p in SAMPLES if "clavicle" in p.stem)), "--construct", "2"]) == 2
    assert "no construct 2; the case has 1" in capsys.readouterr().err
