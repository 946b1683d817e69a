"""The command line: serve, assess, draw, sheet, rules, schema."""

import argparse
import gc
import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from app import __version__

if TYPE_CHECKING:
    from app.assess import Assessment, Knowledge

INVALID = 2
DEFAULT_PORT = 8017


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="fishplate",
        description="Sketch a plate-and-screw construct for a fractured long-bone shaft. Not a medical device.",
    )
    parser.add_argument("--version", action="version", version=f"fishplate {__version__}")
    parser.add_argument("--stock", type=Path, default=_env_path("FISHPLATE_STOCK"), help="TOML file of your own plates")
    parser.add_argument(
        "--thresholds",
        type=Path,
        default=_env_path("FISHPLATE_THRESHOLDS"),
        help="TOML file of your department's thresholds",
    )
    commands = parser.add_subparsers(dest="command", required=True)
    serve = commands.add_parser("serve", help="open the sketch page on this machine")
    serve.add_argument("--host", default="127.0.0.1")
    serve.add_argument("--port", type=int, default=DEFAULT_PORT)
    serve.add_argument(
        "--data", type=Path, default=_env_path("FISHPLATE_DATA") or Path("data"), help="folder that keeps the cases"
    )
    serve.add_argument("--phrase-file", type=Path, help="file with the access phrase that others must give")
    serve.add_argument(
        "--allow-host", action="append", default=[], metavar="NAME", help="a name this server goes by; may be repeated"
    )
    serve.add_argument("--workers", type=_count, default=1, help="how many processes serve")
    check = commands.add_parser("assess", help="print the assessment of a case file as JSON")
    check.add_argument("file", type=Path)
    draw = commands.add_parser("draw", help="draw a case file as SVG")
    draw.add_argument("file", type=Path)
    draw.add_argument("-o", "--output", type=Path, required=True)
    draw.add_argument("--theme", choices=["light", "dark", "print"], default="light")
    sheet = commands.add_parser("sheet", help="set the plan sheet of a case file as PDF, true-size drawing included")
    sheet.add_argument("file", type=Path)
    sheet.add_argument("-o", "--output", type=Path, required=True)
    sheet.add_argument("--paper", choices=["a4", "letter"], default="a4")
    commands.add_parser("rules", help="list every rule with its reason, source and thresholds")
    schema = commands.add_parser("schema", help="print a JSON Schema")
    schema.add_argument("which", choices=["case", "assessment"])
    return parser


def _count(text: str) -> int:
    count = int(text)
    if count < 1:
        raise ValueError
    return count


def _env_path(name: str) -> Path | None:
    value = os.environ.get(name)
    return Path(value) if value else None


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status is 0, or 2 when a file is faulty (every fault on stderr)."""
    options = _parser().parse_args(arguments)
    gc.disable()  # what is loaded now stays, and looking it through again and again takes a tenth of a start
    try:
        return _run(options)
    finally:
        gc.enable()


def _run(options: argparse.Namespace) -> int:
    from app.assess import load_knowledge
    from app.case import InvalidCase
    from app.catalogue import CatalogueError

    try:
        knowledge = load_knowledge(options.stock, options.thresholds)
        return _COMMANDS[options.command](options, knowledge)
    except InvalidCase as error:
        for fault in error.faults:
            print(fault, file=sys.stderr)
    except (CatalogueError, OSError) as error:
        print(error, file=sys.stderr)
    return INVALID


def _read(path: Path, knowledge: "Knowledge") -> "Assessment":
    from app.assess import assess
    from app.case import parse_case

    return assess(parse_case(path.read_bytes()), knowledge)


def _assess(options: argparse.Namespace, knowledge: "Knowledge") -> int:
    from app.document import as_document

    document = as_document(_read(options.file, knowledge))
    print(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False))
    return 0


def _draw(options: argparse.Namespace, knowledge: "Knowledge") -> int:
    from app.drawing import draw_case, with_typeface

    drawing = draw_case(_read(options.file, knowledge), theme=options.theme)
    options.output.write_text(with_typeface(drawing), encoding="utf-8")
    return 0


def _sheet(options: argparse.Namespace, knowledge: "Knowledge") -> int:
    from app.sheet import plan_sheet

    options.output.write_bytes(plan_sheet(_read(options.file, knowledge), paper=options.paper))
    return 0


def _rules(options: argparse.Namespace, knowledge: "Knowledge") -> int:  # noqa: ARG001 - one signature for all
    from app.rules import all_rules

    for rule in all_rules():
        print(f"{rule.id} [{rule.level}] {rule.says}")
        print(f"    why: {rule.why}\n    source: {rule.source} ({rule.standing})")
        for entry in knowledge.thresholds.of(rule.id):
            print(f"    {entry.name} = {entry.value:g} {entry.unit}: {entry.about}")
    return 0


def _schema(options: argparse.Namespace, knowledge: "Knowledge") -> int:  # noqa: ARG001 - one signature for all
    from app.document import schema

    print(json.dumps(schema(options.which), ensure_ascii=False, indent=2))
    return 0


def _environment(options: argparse.Namespace) -> dict[str, str]:
    """What the workers are told; ``FISHPLATE_…`` variables that have no option here reach them by themselves."""
    told = {
        "DATA": options.data,
        "STOCK": options.stock,
        "THRESHOLDS": options.thresholds,
        "PHRASE_FILE": options.phrase_file,
        "HOSTS": ",".join(options.allow_host),
    }
    return {f"FISHPLATE_{name}": str(value) for name, value in told.items() if value}


def _serve(options: argparse.Namespace, knowledge: "Knowledge") -> int:  # noqa: ARG001 - read again by the server
    import uvicorn

    from app.web.factory import check_listening, from_environment
    from app.web.hosts import in_header
    from app.web.keys import UnfitPhrase
    from app.web.upgrade import MOST_BYTES

    os.environ.update(_environment(options))
    try:
        check_listening(options.host, from_environment(os.environ))
    except UnfitPhrase as error:
        print(error, file=sys.stderr)
        return INVALID
    print(f"Fishplate on http://{in_header(options.host)}:{options.port}/  (Ctrl+C stops it)", file=sys.stderr)
    uvicorn.run(
        "app.web.factory:create",  # by name, since every worker is a process that builds its own
        factory=True,
        workers=options.workers,
        host=options.host,
        port=options.port,
        log_level="warning",
        ws="app.web.upgrade:protocol",
        ws_max_size=MOST_BYTES,
        ws_per_message_deflate=False,
        timeout_graceful_shutdown=1,  # open event streams would hold the server up for ever
    )
    return 0


_COMMANDS = {"serve": _serve, "assess": _assess, "draw": _draw, "sheet": _sheet, "rules": _rules, "schema": _schema}

if __name__ == "__main__":
    sys.exit(main())
