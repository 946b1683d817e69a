"""Reading TOML so that every fault names the file, the key and what is allowed there."""

import re
import tomllib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

KEY = re.compile(r"[a-z0-9][a-z0-9.\-]{0,59}")
MAX_TEXT = 600
MAX_BYTES = 1_000_000


class CatalogueError(ValueError):
    """A file of figures that cannot be used: which file, which key, and what is allowed there."""

    def __init__(self, file: str, key: str, allowed: str) -> None:
        super().__init__(f"{file}: {key}: {allowed}" if key else f"{file}: {allowed}")
        self.file = file
        self.key = key
        self.allowed = allowed


@dataclass(frozen=True, slots=True)
class Table:
    """One TOML table and where it stands. All readers raise ``CatalogueError`` on a fault."""

    file: str
    key: str
    values: Mapping[str, Any]

    def place(self, name: str) -> str:
        """Dotted key of an entry, from the top of the file."""
        return f"{self.key}.{name}" if self.key else name

    def fault(self, name: str, allowed: str) -> CatalogueError:
        """An error at one entry of this table."""
        return CatalogueError(self.file, self.place(name), allowed)

    def only(self, known: Collection[str]) -> None:
        """Refuse unknown keys."""
        for name in self.values:
            if name not in known:
                raise self.fault(name, f"unknown key; known: {', '.join(sorted(known))}")

    def get(self, name: str) -> Any:
        """The raw entry; a fault if it is missing."""
        if name not in self.values:
            raise self.fault(name, "missing")
        return self.values[name]

    def number(self, name: str, low: float, high: float) -> float:
        """A finite number in ``low`` … ``high``."""
        return self._checked(name, self.get(name), low, high)

    def optional(self, name: str, low: float, high: float) -> float | None:
        """Like ``number``, or None where the entry is left out."""
        return self.number(name, low, high) if name in self.values else None

    def numbers(self, name: str, low: float, high: float) -> tuple[float, ...]:
        """A list of finite numbers, each in ``low`` … ``high``; not empty."""
        return tuple(self._checked(name, value, low, high) for value in self._list(name))

    def whole_numbers(self, name: str, low: int, high: int) -> tuple[int, ...]:
        """A rising list of whole numbers in ``low`` … ``high``; not empty."""
        values = self._list(name)
        whole = [v for v in values if isinstance(v, int) and not isinstance(v, bool) and low <= v <= high]
        if len(whole) != len(values) or whole != sorted(set(whole)):
            raise self.fault(name, f"must be a rising list of whole numbers from {low} to {high}")
        return tuple(whole)

    def rows(self, name: str, width: int, low: float, high: float) -> tuple[tuple[float, ...], ...]:
        """A list of lists of ``width`` numbers each; not empty."""
        rows = self._list(name)
        if not all(isinstance(row, list) and len(row) == width for row in rows):
            raise self.fault(name, f"must be a list of lists of {width} numbers each")
        return tuple(tuple(self._checked(name, value, low, high) for value in row) for row in rows)

    def text(self, name: str) -> str:
        """One line of plain text."""
        value = self.get(name)
        plain = isinstance(value, str) and value.strip() and value.isprintable() and not set("<>") & set(value)
        if not plain or len(value) > MAX_TEXT:
            raise self.fault(name, f"must be one line of plain text (1 to {MAX_TEXT} characters, no < or >)")
        return str(value)

    def choice(self, name: str, options: Collection[str]) -> str:
        """One of a few words."""
        value = self.get(name)
        if not isinstance(value, str) or value not in options:
            raise self.fault(name, f"must be one of: {', '.join(options)}")
        return value

    def choices(self, name: str, options: Collection[str]) -> tuple[str, ...]:
        """A list of some of a few words; not empty."""
        values = self._list(name)
        if not all(isinstance(value, str) and value in options for value in values):
            raise self.fault(name, f"must be a list of: {', '.join(options)}")
        return tuple(values)

    def flag(self, name: str) -> bool:
        """True or false."""
        value = self.get(name)
        if not isinstance(value, bool):
            raise self.fault(name, "must be true or false")
        return value

    def table(self, name: str) -> "Table":
        """A table inside this one."""
        value = self.get(name)
        if not isinstance(value, dict):
            raise self.fault(name, "must be a table")
        return Table(self.file, self.place(name), value)

    def tables(self) -> Iterator[tuple[str, "Table"]]:
        """All entries, each of which must be a table under a key of lower-case letters, digits, dots and hyphens."""
        for name in self.values:
            if not KEY.fullmatch(name):
                raise self.fault(name, "keys are 1 to 60 lower-case letters, digits, dots and hyphens")
            yield name, self.table(name)

    def array(self, name: str) -> tuple["Table", ...]:
        """A list of tables; empty if left out."""
        values = self.values.get(name, [])
        if not isinstance(values, list) or not all(isinstance(value, dict) for value in values):
            raise self.fault(name, "must be a list of tables")
        return tuple(Table(self.file, f"{self.place(name)}[{n}]", value) for n, value in enumerate(values))

    def _list(self, name: str) -> list[Any]:
        value = self.get(name)
        if not isinstance(value, list) or not value or len(value) > 400:
            raise self.fault(name, "must be a list of 1 to 400 entries")
        return value

    def _checked(self, name: str, value: Any, low: float, high: float) -> float:
        # bool is an int in Python, and NaN fails every comparison.
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise self.fault(name, f"must be a number from {low:g} to {high:g}")
        return float(value)


def read(path: Path) -> Table:
    """Read a TOML file.

    Raises:
        CatalogueError: it cannot be read, is too big, or is not TOML; the message says where.
    """
    try:
        raw = path.read_bytes()
        if len(raw) > MAX_BYTES:
            raise CatalogueError(path.name, "", f"must be at most {MAX_BYTES} bytes")
        return Table(path.name, "", tomllib.loads(raw.decode("utf-8")))
    except OSError as error:
        raise CatalogueError(path.name, "", f"cannot be read: {error.strerror}") from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise CatalogueError(path.name, "", f"is not TOML in UTF-8: {error}") from error
