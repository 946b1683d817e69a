"""Who may do what: one table of addresses, asked before any route is looked up."""

import re
from dataclasses import dataclass

READING = frozenset({"GET", "HEAD"})


@dataclass(frozen=True, slots=True)
class Owner:
    """Somebody who gave the access phrase, or anybody on this machine where none is set: may do everything."""

    session: str | None = None


@dataclass(frozen=True, slots=True)
class Reader:
    """The holder of one case's read-only link."""

    case_id: str
    issued_ms: int = 0


Pass = Owner | Reader

# Without a pass: signing in, what its page is made of, and whether the server is well. Nothing else, static or not.
OPEN: tuple[tuple[frozenset[str], re.Pattern[str]], ...] = (
    (READING | {"POST"}, re.compile("/signin")),
    (READING, re.compile(r"/static/css/page\.css")),
    (READING, re.compile(r"/static/fonts/fishplate-sans-(regular|strong)\.woff2")),
    (READING, re.compile(r"/static/js/lib/theme\.js")),
    (READING, re.compile(r"/static/favicon\.svg")),
    (READING, re.compile("/health/(live|ready)")),
)

# With a read-only link, besides static files, and only to be read: ``{case}`` is that link's case, ``{n}`` a number.
READABLE = (
    "/cases/{case}/conference",
    "/cases/{case}/conference/map",
    "/cases/{case}/drawing.svg",
    "/api/v1/cases/{case}/events",
    "/api/v1/cases/{case}/picture",
    "/api/v1/cases/{case}/steps/{n}",
    "/api/v1/cases/{case}/whatifs",
)
STATIC = re.compile(r"/static/[^/]+(/[^/]+)*")


def may(pass_: Pass | None, method: str, path: str) -> bool:
    """Whether somebody with this pass may send this method to this address (no query, not percent-encoded)."""
    match pass_:
        case Owner():
            return True
        case Reader(case_id):
            return method in READING and (STATIC.fullmatch(path) is not None or _is_own(path, case_id))
        case None:
            return any(method in methods and pattern.fullmatch(path) for methods, pattern in OPEN)


def _is_own(path: str, case_id: str) -> bool:
    own = (re.escape(address).replace(r"\{case\}", re.escape(case_id)) for address in READABLE)
    return any(re.fullmatch(address.replace(r"\{n\}", "[0-9]{1,4}"), path) for address in own)
