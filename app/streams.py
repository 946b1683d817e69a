"""Where the command line reads cases from and puts what it makes: files, folders, standard input and output."""

import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

STANDARD = "-"
IN_NAME = "standard input"
OUT_NAME = "standard output"
MOST_BYTES = 1_000_000  # of a case file, as on the web; a device goes on for ever


class Unusable(Exception):  # noqa: N818 - reads as what it is: the file is unusable
    """A file can't be read or written; the message names it and says why."""


class OutputLost(Exception):  # noqa: N818 - reads as what it is
    """Standard output can't be written, so nothing more can be told there; the message says why."""


@dataclass(frozen=True, slots=True)
class Source:
    """A case file as named on the command line."""

    word: str

    @property
    def name(self) -> str:
        """What messages and the JSON call it; a name that isn't UTF-8 is made so."""
        return IN_NAME if self.word == STANDARD else os.fsencode(self.word).decode("utf-8", "replace")

    def read(self) -> bytes:
        """The whole content.

        Raises:
            Unusable: it isn't there, is a folder, may not be read, or is larger than any case.
        """
        try:
            content = self._content()
        except IsADirectoryError as error:
            raise Unusable(f"{self.name}: is a folder; name the case files in it") from error
        except (OSError, ValueError) as error:
            raise Unusable(f"{self.name}: {_reason(error)}") from error
        if len(content) > MOST_BYTES:
            raise Unusable(f"{self.name}: is larger than 1 MB, which no case is")
        return content

    def _content(self) -> bytes:
        if self.word == STANDARD:
            if sys.stdin is None:
                raise ValueError("is closed")
            return sys.stdin.buffer.read(MOST_BYTES + 1)
        with Path(self.word).open("rb") as file:
            return file.read(MOST_BYTES + 1)


def sources(words: Sequence[str]) -> list[Source]:
    """The files named on the command line.

    Raises:
        Unusable: standard input is named twice.
    """
    if list(words).count(STANDARD) > 1:
        raise Unusable(f"{IN_NAME}: can be read only once; name - once")
    return [Source(word) for word in words]


def targets(given: Sequence[Source], out: str, ending: str, *, force: bool) -> Iterator[str | Unusable]:
    """Where what is made of each source goes: one file may be named, several need a folder.

    ``out`` is a file's name, a folder's, or ``-``. A file in a folder was not named, so none that is there already is
    written over without ``force``. For a source that has no place, the reason is yielded instead.

    Raises:
        Unusable: several sources, but no folder to put theirs in.
    """
    folder = Path(out)
    if len(given) == 1 and not folder.is_dir():
        yield _own_name(given[0], out)
        return
    if out == STANDARD:
        raise Unusable("-o -: several drawings or sheets don't fit one stream; name a folder")
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise Unusable(f"-o {out}: {_reason(error)}; several files need a folder") from error
    taken: set[str] = set()
    for source in given:
        stem = "standard-input" if source.word == STANDARD else Path(source.word).stem
        path = folder / f"{stem}{ending}"
        if path.name in taken:
            yield Unusable(f"{source.name}: {path} is already written from another file of that name")
        elif path.exists() and not force:
            yield Unusable(f"{source.name}: {path} is there already; name another folder, or give --force")
        else:
            taken.add(path.name)
            yield str(path)


def _own_name(source: Source, out: str) -> str | Unusable:
    same = STANDARD not in (source.word, out) and Path(out).exists() and Path(source.word).exists()
    if same and Path(out).samefile(source.word):
        return Unusable(f"{source.name}: is the case itself, and would be written over; give -o another name")
    return out


def write(out: str, content: str | bytes) -> None:
    """Write a file, or to standard output for ``-``, in UTF-8.

    Raises:
        Unusable: the file can't be written.
        OutputLost: standard output can't.
        BrokenPipeError: whoever read standard output stopped reading.
    """
    data = content.encode() if isinstance(content, str) else content
    if out == STANDARD:
        _write_out(data)
        return
    try:
        Path(out).write_bytes(data)
    except OSError as error:
        raise Unusable(f"{out}: {_reason(error)}") from error


def _write_out(data: bytes) -> None:
    if sys.stdout is None:
        raise OutputLost(f"{OUT_NAME}: is closed")
    try:
        sys.stdout.flush()
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    except OSError as error:
        give_up_output()
        if isinstance(error, BrokenPipeError):
            raise
        raise OutputLost(f"{OUT_NAME}: {_reason(error)}") from error


def say(fault: object) -> None:
    """A line on standard error; where that is closed, nobody listens."""
    if sys.stderr is not None:
        print(fault, file=sys.stderr)  # noqa: T201 - the command line's own voice


def give_up_output() -> None:
    """Nobody reads standard output any more: what is left in it must not be tried again when Python ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)


def _reason(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
