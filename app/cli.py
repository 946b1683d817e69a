"""The command line. Each command imports what it needs when it is called."""

import argparse
import atexit
import gc
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from app import __version__
from app.streams import STANDARD, OutputLost, Source, Unusable, say, sources, targets, write
from app.wording import capitalised

if TYPE_CHECKING:
    from app.assess import Assessment, Knowledge

INVALID = 2
INTERRUPTED = 130  # as a shell has it: 128 and the signal's number
NOBODY_READS = 141
DEFAULT_PORT = 8017
PASSING = ("disk-full", "locked")

STATUSES = """\
exit status:
  0    everything was done
  2    a file, a table or a word of the command is faulty, or can't be read or written; each fault is a line
       on standard error that begins with the file's name. With several files the others are done all the same.
  130  interrupted (Ctrl+C)
  141  whoever read the output stopped reading (as with "| head")
"""
CASE_FILES = "case files; - is standard input"


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="fishplate",
        description="Sketch a plate-and-screw construct for a fractured long-bone shaft. Not a medical device.",
        epilog=f"{STATUSES}\nfishplate COMMAND --help tells more of each, with an example.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"fishplate {__version__}")
    parser.add_argument("--stock", type=Path, default=_env_path("FISHPLATE_STOCK"), help="TOML file of your own plates")
    parser.add_argument(
        "--thresholds",
        type=Path,
        default=_env_path("FISHPLATE_THRESHOLDS"),
        help="TOML file of your department's thresholds",
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def command(name: str, says: str, more: str, example: str) -> argparse.ArgumentParser:
        return commands.add_parser(
            name,
            help=says,
            description=f"{capitalised(says)}. {more}".strip(),
            epilog=f"example:\n  {example}\n\n{STATUSES}",
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )

    _add_serve(command)
    _add_backup(command)
    _add_restore(command)
    _add_assess(command)
    _add_draw(command)
    _add_sheet(command)
    _add_map(command)
    command(
        "rules",
        "list every rule with its reason, source and thresholds",
        "Those of --thresholds are shown where\nthey are given.",
        "fishplate rules | grep -A 4 lag-angle",
    )
    schema = command(
        "schema",
        "print a JSON Schema",
        "Of the case file, or of what assess or map prints.",
        "fishplate schema case > case.json",
    )
    schema.add_argument("which", choices=["case", "assessment", "map"])
    return parser


_Adding = Callable[[str, str, str, str], argparse.ArgumentParser]


def _add_serve(command: _Adding) -> None:
    serve = command(
        "serve",
        "open the sketch page on this machine",
        "It prints the address, and serves until Ctrl+C.",
        "fishplate serve --port 8017 --data data",
    )
    serve.add_argument(
        "--host", default="127.0.0.1", help="address to listen on (default: %(default)s, this machine only)"
    )
    serve.add_argument("--port", type=int, default=DEFAULT_PORT, help="port to listen on (default: %(default)s)")
    _add_data(serve)
    serve.add_argument("--phrase-file", type=Path, help="file with the access phrase that others must give")
    serve.add_argument(
        "--allow-host", action="append", default=[], metavar="NAME", help="a name this server goes by; may be repeated"
    )
    serve.add_argument(
        "--proxy",
        action="append",
        default=[],
        metavar="ADDRESS",
        help="address or network of a proxy whose word on who is behind it is believed; may be repeated",
    )
    serve.add_argument("--workers", type=_count, default=1, help="how many processes serve")


def _add_backup(command: _Adding) -> None:
    backup = command(
        "backup",
        "write all cases with their history into one file",
        "Also while the server runs: every edit\nacknowledged before the command began is in it. The file is checked. "
        "On PostgreSQL it says which of\nthe database's tools to use.",
        "fishplate backup --data data fishplate-monday.db",
    )
    _add_data(backup)
    backup.add_argument("file", type=Path, metavar="FILE", help="the backup to write")
    backup.add_argument("--force", action="store_true", help="write over FILE if it is there already")


def _add_restore(command: _Adding) -> None:
    restore = command(
        "restore",
        "put a backup in the place of the cases",
        "With the server stopped. The backup is checked first. A library that\nis there already is put aside under "
        "another name, and not without a yes at the terminal, or --force.",
        "fishplate restore --data data fishplate-monday.db",
    )
    _add_data(restore)
    restore.add_argument("file", type=Path, metavar="FILE", help="a file that backup wrote")
    restore.add_argument("--force", action="store_true", help="don't ask before a library is put aside")


def _add_data(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--data", type=Path, default=_env_path("FISHPLATE_DATA") or Path("data"), help="folder that keeps the cases"
    )


def _add_assess(command: _Adding) -> None:
    check = command(
        "assess",
        "print the assessment of case files as JSON",
        "One file gives one document,\n"
        'fishplate-assessment/2. Several give JSON Lines: a line {"file": NAME, "assessment": {...}} for each file\n'
        "that is a case, as soon as it is assessed.",
        "fishplate assess --lines cases/*.json | jq -r 'select(any(.assessment.constructs[].warnings[];\n"
        '      .level == "stop")) | .file\'',
    )
    check.add_argument("files", nargs="+", metavar="FILE", help=CASE_FILES)
    check.add_argument("--lines", action="store_true", help="JSON Lines for a single file too")
    check.add_argument("--bands", action="store_true", help="with the mechanics' bands over what is not known")


def _add_draw(command: _Adding) -> None:
    draw = command(
        "draw",
        "draw case files as SVG",
        "Each drawing stands alone, and shows all constructs of its case.",
        "fishplate draw cases/*.json -o drawings      makes drawings/NAME.svg of each cases/NAME.json",
    )
    _add_files_and_out(draw, ".svg")
    draw.add_argument(
        "--theme", choices=["light", "dark", "print"], default="light", help="colours (default: %(default)s)"
    )


def _add_sheet(command: _Adding) -> None:
    sheet = command(
        "sheet",
        "set the plan sheet of case files as PDF",
        "One page per construct, and the drawing at true size.",
        "fishplate sheet case.json -o plan.pdf --paper letter",
    )
    _add_files_and_out(sheet, ".pdf")
    sheet.add_argument("--paper", choices=["a4", "letter"], default="a4", help="paper (default: %(default)s)")
    sheet.add_argument("--map", action="store_true", help="with a small picture of the map of layouts")


def _add_map(command: _Adding) -> None:
    from app.layout_map.command import add_options

    layouts = command(
        "map",
        "print every way to fill the plate's holes, with its figures and what the rules that count say",
        "For one construct of a case, the plate as it lies: loads, supports and roles are held fixed. JSON is one "
        "document, fishplate-map/1;\nCSV has a line for each layout.",
        "fishplate map case.json --csv | awk -F, '$3 <= 6 && $4 == \"solved\"'",
    )
    add_options(layouts, _count)


def _add_files_and_out(parser: argparse.ArgumentParser, ending: str) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", help=CASE_FILES)
    parser.add_argument(
        "-o",
        "--output",
        required=True,
        metavar="OUT",
        help=f"the file to write, or - for standard output; with several files, or where OUT is a folder, each goes to "
        f"OUT/NAME{ending}, and the folder is made where it is missing",
    )
    parser.add_argument("--force", action="store_true", help="write over files that are in the folder already")


def _count(text: str) -> int:
    count = int(text)
    if count < 1:
        raise ValueError
    return count


def _env_path(name: str) -> Path | None:
    value = os.environ.get(name)
    return Path(value) if value else None


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status is as ``STATUSES`` has it."""
    options = _parser().parse_args(arguments)
    gc.disable()  # what is loaded now stays, and looking it through again and again takes a tenth of a start
    atexit.register(gc.freeze)  # nor is it looked through at the end, when all of it goes: another tenth
    # Pydantic would look through every installed package for plugins of its own, which none here has.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        return _run(options)
    except BrokenPipeError:
        return NOBODY_READS
    except KeyboardInterrupt:
        return INTERRUPTED
    finally:
        gc.enable()


def _run(options: argparse.Namespace) -> int:
    from app.assess import load_knowledge
    from app.catalogue import CatalogueError

    try:
        if options.command in _OF_THE_LIBRARY:
            return _of_the_library(options)
        knowledge = load_knowledge(options.stock, options.thresholds)
        return _COMMANDS[options.command](options, knowledge)
    except BrokenPipeError:
        raise
    except (CatalogueError, OSError, OutputLost, Unusable) as error:
        say(error)
    return INVALID


def _each(given: Sequence[Source], knowledge: "Knowledge", do: Callable[[int, "Assessment"], None]) -> int:
    """Do something with each case; every fault is told with its file, and the others are done all the same."""
    from app.assess import assess
    from app.case import InvalidCase, parse_case

    status = 0
    for index, source in enumerate(given):
        try:
            do(index, assess(parse_case(source.read()), knowledge))
        except InvalidCase as error:
            status = INVALID
            for fault in error.faults:
                say(f"{source.name}: {fault}")
        except Unusable as error:
            status = INVALID
            say(error)
    return status


def _assess(options: argparse.Namespace, knowledge: "Knowledge") -> int:
    from app.assess import drawn_from
    from app.document import as_document

    given = sources(options.files)
    lines = options.lines or len(given) > 1

    def tell(index: int, assessment: "Assessment") -> None:
        document = as_document(assessment, drawn_from(knowledge.catalogue) if options.bands else None)
        told = {"file": given[index].name, "assessment": document} if lines else document
        write(STANDARD, json.dumps(told, ensure_ascii=False, indent=None if lines else 2, allow_nan=False) + "\n")

    return _each(given, knowledge, tell)


def _make(
    options: argparse.Namespace, knowledge: "Knowledge", ending: str, make: Callable[["Assessment"], str | bytes]
) -> int:
    given = sources(options.files)
    places = list(targets(given, options.output, ending, force=options.force))

    def put(index: int, assessment: "Assessment") -> None:
        place = places[index]
        if isinstance(place, Unusable):
            raise place
        write(place, make(assessment))

    return _each(given, knowledge, put)


def _draw(options: argparse.Namespace, knowledge: "Knowledge") -> int:
    from app.drawing import draw_case, with_typeface

    return _make(
        options, knowledge, ".svg", lambda assessment: with_typeface(draw_case(assessment, theme=options.theme))
    )


def _sheet(options: argparse.Namespace, knowledge: "Knowledge") -> int:
    from app.sheet.command import sheet_of

    return _make(options, knowledge, ".pdf", lambda one: sheet_of(one, knowledge, options.paper, options.map))


def _map(options: argparse.Namespace, knowledge: "Knowledge") -> int:
    from app.layout_map.command import NoMapError, map_text

    def tell(_index: int, assessment: "Assessment") -> None:
        try:
            write(STANDARD, map_text(options, assessment, knowledge))
        except NoMapError as error:
            message = f"{options.file}: {error}"
            raise Unusable(message) from error

    return _each(sources([options.file]), knowledge, tell)


def _rules(options: argparse.Namespace, knowledge: "Knowledge") -> int:  # noqa: ARG001 - one signature for all
    from app.catalogue.figures import ON_WORDS
    from app.rules import all_rules

    lines = []
    for rule in all_rules():
        lines.append(f"{rule.id} [{rule.level}] {rule.says}")
        lines.append(
            f"    why: {rule.why}\n    source: {rule.source} ({rule.standing})\n    source on: {ON_WORDS[rule.on]}"
        )
        lines += [
            f"    {one.name} = {one.value:g} {one.unit}: {one.about} (source on: {ON_WORDS[one.figure.on]})"
            for one in knowledge.thresholds.of(rule.id)
        ]
    write(STANDARD, "\n".join([*lines, ""]))
    return 0


def _schema(options: argparse.Namespace, knowledge: "Knowledge") -> int:  # noqa: ARG001 - one signature for all
    from app.document import schema

    write(STANDARD, json.dumps(schema(options.which), ensure_ascii=False, indent=2) + "\n")
    return 0


def _library(options: argparse.Namespace) -> Path:
    from app.store.backup import library_file
    from app.web.settings import Settings

    return library_file(Settings(options.data, os.environ.get("FISHPLATE_DATABASE_URL") or None).url)


def _of_the_library(options: argparse.Namespace) -> int:
    from app.store import BackupRefused

    try:
        return _OF_THE_LIBRARY[options.command](options)
    except BackupRefused as refused:
        raise Unusable(refused) from refused


def _backup(options: argparse.Namespace) -> int:
    from app.store.backup import backup

    made = backup(_library(options), options.file, force=options.force)
    say(f"{options.file}: {made.cases} cases, {made.revisions} revisions, {made.size_bytes / 1e6:.1f} MB; checked")
    return 0


def _restore(options: argparse.Namespace) -> int:
    from app.store.backup import restore

    library = _library(options)
    replace = options.force or (library.exists() and _yes(f"{library} is there already. Put it aside?"))
    made = restore(options.file, library, replace=replace)
    say(f"{library}: {made.cases} cases, {made.revisions} revisions")
    if made.aside is not None:
        say(f"{made.aside}: what was there before")
    return 0


def _yes(question: str) -> bool:
    """Whether somebody at a terminal says yes; nobody there means no."""
    if sys.stdin is None or not sys.stdin.isatty() or sys.stderr is None:
        return False
    print(question, "[y/N] ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip().lower() in ("y", "yes")


def _environment(options: argparse.Namespace) -> dict[str, str]:
    """What the workers are told; ``FISHPLATE_…`` variables that have no option here reach them by themselves."""
    told = {
        "DATA": options.data,
        "STOCK": options.stock,
        "THRESHOLDS": options.thresholds,
        "PHRASE_FILE": options.phrase_file,
        "HOSTS": ",".join(options.allow_host),
        "PROXIES": ",".join(options.proxy),
    }
    return {f"FISHPLATE_{name}": str(value) for name, value in told.items() if value}


def _check_data(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        able = os.access(folder, os.W_OK)
    except OSError:
        able = False
    if not able:
        raise Unusable(f"--data {folder}: can't be written by you; name a folder that keeps the cases with --data")


def _check_database(url: str) -> None:
    """Open the database once, so that what is wrong with it is a sentence here and no traceback of each worker.

    A disk without room and a lock pass, and what is there can be read meanwhile: they are told, and the server starts.
    """
    from sqlalchemy.exc import SQLAlchemyError

    from app.store import Store, StoreError

    try:
        store = Store(url)
        try:
            trouble = store.trouble()
        finally:
            store.close()
    except (StoreError, ValueError, SQLAlchemyError) as error:
        raise Unusable(capitalised(str(error).splitlines()[0])) from error
    if trouble is not None and trouble.cause not in PASSING:
        raise Unusable(f"{capitalised(str(trouble))} {trouble.operator}")
    if trouble is not None:
        say(f"{capitalised(str(trouble))} {trouble.operator}")


def _serve(options: argparse.Namespace, knowledge: "Knowledge") -> int:  # noqa: ARG001 - read again by the server
    import uvicorn

    from app.web.access.tokens import UnfitPhrase
    from app.web.factory import check_listening, from_environment
    from app.web.http.hosts import in_header
    from app.web.http.websocket_protocol import MOST_BYTES
    from app.web.settings import UnfitSetting

    os.environ.update(_environment(options))
    if not os.environ.get("FISHPLATE_DATABASE_URL"):
        _check_data(options.data)
    try:
        settings = from_environment(os.environ)
        check_listening(options.host, settings)
        _check_database(settings.url)
    except (UnfitPhrase, UnfitSetting) as error:
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
        http="app.web.http.connections:Limited",
        backlog=256,
        proxy_headers=False,  # the application believes those that are named, and nobody else
        ws="app.web.http.websocket_protocol:protocol",
        ws_max_size=MOST_BYTES,
        ws_per_message_deflate=False,
        timeout_graceful_shutdown=1,  # open event streams would hold the server up for ever
    )
    return 0


_OF_THE_LIBRARY = {"backup": _backup, "restore": _restore}  # whatever is wrong with somebody's tables
_COMMANDS = {
    "serve": _serve,
    "assess": _assess,
    "draw": _draw,
    "sheet": _sheet,
    "map": _map,
    "rules": _rules,
    "schema": _schema,
}

if __name__ == "__main__":
    sys.exit(main())
