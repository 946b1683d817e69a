"""What a server is started with."""

import ipaddress
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from sqlalchemy import URL

IN_ALL, EACH = 1000, 200


class UnfitSetting(ValueError):  # noqa: N818 - reads as what it is
    """A setting that can't be used; says which and what it must be."""


@dataclass(frozen=True, slots=True)
class Admission:
    """How many connections each process has at most, in all and to one client; proxies bring as many as they like."""

    in_all: int = IN_ALL
    each: int = EACH
    proxies: tuple[ipaddress.IPv4Network | ipaddress.IPv6Network, ...] = ()

    def is_proxy(self, address: str) -> bool:
        """Whether it stands for many clients."""
        try:
            there = ipaddress.ip_network(address)
        except ValueError:
            return False
        return any(there.version == one.version and there.overlaps(one) for one in self.proxies)

    def within(self, files: int) -> "Admission":
        """The same, for a process that can open so many more files."""
        return replace(self, in_all=min(self.in_all, files))


def admission_from(given: Mapping[str, str]) -> Admission:
    """What ``FISHPLATE_CONNECTIONS``, ``FISHPLATE_CONNECTIONS_EACH`` and ``FISHPLATE_PROXIES`` say.

    Raises:
        UnfitSetting: one of them is no count, or no address.
    """
    return Admission(
        _count(given, "FISHPLATE_CONNECTIONS", IN_ALL),
        _count(given, "FISHPLATE_CONNECTIONS_EACH", EACH),
        tuple(_network(name) for name in listed(given.get("FISHPLATE_PROXIES", ""))),
    )


def listed(text: str) -> tuple[str, ...]:
    """What stands between commas."""
    return tuple(part.strip() for part in text.split(",") if part.strip())


def _count(given: Mapping[str, str], name: str, usual: int) -> int:
    text = given.get(name) or str(usual)
    if not text.isdecimal() or int(text) < 1:
        message = f"{name} must be a count of 1 or more (got {text!r})"
        raise UnfitSetting(message)
    return int(text)


def thinning_from(given: Mapping[str, str]) -> int | None:
    """What ``FISHPLATE_THIN_AFTER_DAYS`` says; None: nothing is thinned.

    Raises:
        UnfitSetting: it is no count.
    """
    name = "FISHPLATE_THIN_AFTER_DAYS"
    return _count(given, name, 1) if given.get(name) else None


def _network(text: str) -> ipaddress.IPv4Network | ipaddress.IPv6Network:
    try:
        return ipaddress.ip_network(text)
    except ValueError as error:
        message = f"FISHPLATE_PROXIES must hold addresses or networks, as 10.0.0.5 or 10.1.0.0/16 (got {text!r})"
        raise UnfitSetting(message) from error


@dataclass(frozen=True, slots=True)
class Settings:
    """``data_dir`` holds the SQLite file unless ``database_url`` names another database.

    ``stock`` and ``thresholds`` are a user's own tables, laid over the shipped ones. ``phrase`` lets people in (None:
    everybody), ``hosts`` are names the server goes by besides the loopback ones. ``proxies`` are addresses and
    networks whose word on who is behind them is believed, ``connections`` how many each process holds at most.
    Of revisions older than ``thin_after_days`` the last of each day is kept (None: all are).
    """

    data_dir: Path
    database_url: str | None = None
    stock: Path | None = None
    thresholds: Path | None = None
    phrase: str | None = field(default=None, repr=False)
    hosts: tuple[str, ...] = ()
    proxies: tuple[str, ...] = ()
    connections: int = IN_ALL
    thin_after_days: int | None = None

    @property
    def url(self) -> str:
        """The database's URL."""
        if self.database_url is not None:
            return self.database_url
        return URL.create("sqlite", database=str(self.data_dir / "fishplate.db")).render_as_string()
