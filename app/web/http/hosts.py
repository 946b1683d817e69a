"""Names this server answers to: a page elsewhere must not reach it by pointing its own name at this machine."""

import ipaddress
import re
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from app.web.http.headers import Refuse, hang_up

LOOPBACK = frozenset({"localhost", "127.0.0.1", "[::1]"})
PROBES = "/health/"  # a probe calls by address, and is told nothing worth stealing
_HOST = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9._-]+?)\.?(:[0-9]{1,5})?")


def is_loopback(address: str) -> bool:
    """Whether only this machine can reach a listen address; a name other than localhost counts as no."""
    if address == "localhost":
        return True
    try:
        return ipaddress.ip_address(address.strip("[]")).is_loopback
    except ValueError:
        return False


def host_name(header: str) -> str | None:
    """The name in a Host header, lower case, without port; None if it is none."""
    match = _HOST.fullmatch(header.lower())
    return match.group(1) if match else None


def in_header(address: str) -> str:
    """An address as browsers write it in a Host header."""
    return f"[{address}]" if ":" in address and not address.startswith("[") else address.lower()


def shareable(base: str, names: tuple[str, ...]) -> str:
    """An address of this server to hand to others, without a slash at its end.

    ``base`` is the one asked for. Where it leads to the asking machine itself, whichever that is, the first of
    ``names`` that doesn't takes its place, on the same port.
    """
    asked = urlsplit(base)
    name = next((one for one in names if not is_loopback(one)), None)
    if name is None or not is_loopback(asked.hostname or ""):
        return base.rstrip("/")
    port = f":{asked.port}" if asked.port else ""
    return f"{asked.scheme}://{in_header(name)}{port}"


class KnownHosts:
    """Refuses requests to names other than the loopback ones and ``names``; empty ``names`` and ``anywhere``: none."""

    def __init__(self, app: ASGIApp, refuse: Refuse, names: tuple[str, ...], anywhere: bool) -> None:
        self._app = app
        self._refuse = refuse
        self._names = LOOPBACK | {in_header(name) for name in names}
        # A stranger's page that reaches us by its own name has no cookie of ours, so the phrase protects already.
        self._any = anywhere and not names

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        known = scope["type"] == "lifespan" or self._any or scope["path"].startswith(PROBES)
        if known or host_name(Headers(scope=scope).get("host", "")) in self._names:
            await self._app(scope, receive, send)
            return
        if scope["type"] == "websocket":
            await hang_up(scope, receive, send)
            return
        sentence = "This server doesn’t go by that name; use the address it was started with, or allow the name there."
        await self._refuse(scope["path"], 421, sentence)(scope, receive, send)
