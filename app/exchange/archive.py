"""Reading a zip that somebody sent: nothing is unpacked to disk, and nothing is believed that it says of itself."""

import stat
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

MEMBERS = 5000
MEMBER_BYTES = 1_000_000
TOTAL_BYTES = 50_000_000
ENCRYPTED = 0x1
STARTS = (b"PK\x03\x04", b"PK\x05\x06")  # a first member, or the end of an empty archive


class BadArchive(ValueError):  # noqa: N818 - reads as what it is
    """The archive as a whole is refused; the message says why."""


@dataclass(frozen=True, slots=True)
class Member:
    """One JSON file of the archive: its content, or the reason why there is none."""

    name: str
    content: bytes | None
    fault: str = ""


def is_zip(data: bytes) -> bool:
    """Whether the bytes begin as a zip does; no JSON text does."""
    return data.startswith(STARTS)


def json_members(data: bytes) -> Iterator[Member]:
    """The JSON files of a zip, in any folder; everything else in it, archives included, is passed over.

    Raises:
        BadArchive: damaged, more than 5000 members, JSON files of more than 50 MB, or a member whose name leads out of
            the archive. Told before the first member, as far as the archive admits to it.
    """
    with _opened(data) as archive:
        entries = archive.infolist()
        _check(entries)
        room = TOTAL_BYTES
        for entry in entries:
            if not _is_wanted(entry):
                continue
            member = _read(archive, entry, min(MEMBER_BYTES, room))
            room -= len(member.content or b"")
            yield member


def _opened(data: bytes) -> ZipFile:
    try:
        return ZipFile(BytesIO(data))
    except (BadZipFile, ValueError, OSError, NotImplementedError) as error:
        message = "the file is not a whole zip archive"
        raise BadArchive(message) from error


def _check(entries: list[ZipInfo]) -> None:
    if len(entries) > MEMBERS:
        message = f"the archive holds {len(entries)} files; at most {MEMBERS} are read"
        raise BadArchive(message)
    if sum(entry.file_size for entry in entries if _is_wanted(entry)) > TOTAL_BYTES:
        message = f"unpacked, the archive has more than {TOTAL_BYTES // 1_000_000} MB"
        raise BadArchive(message)
    for entry in entries:
        if _leads_out(entry):
            message = f"a file's name leads out of the archive: {entry.orig_filename[:80]!r}"
            raise BadArchive(message)


def _leads_out(entry: ZipInfo) -> bool:
    # The name as written: ZipInfo.filename is cut at a NUL.
    name = entry.orig_filename.replace("\\", "/")
    drive = name[1:2] == ":"
    return name.startswith("/") or drive or "\x00" in name or ".." in name.split("/")


def _is_wanted(entry: ZipInfo) -> bool:
    steps = entry.filename.split("/")
    hidden = any(step.startswith(".") or step == "__MACOSX" for step in steps)
    link = stat.S_ISLNK(entry.external_attr >> 16)
    return entry.filename.lower().endswith(".json") and not hidden and not link


def _read(archive: ZipFile, entry: ZipInfo, most: int) -> Member:
    if entry.file_size > most:
        return Member(entry.filename, None, f"larger than {MEMBER_BYTES // 1_000_000} MB")
    if entry.flag_bits & ENCRYPTED:
        return Member(entry.filename, None, "encrypted")
    if entry.compress_type not in (ZIP_STORED, ZIP_DEFLATED):
        return Member(entry.filename, None, "packed in a way that isn't read here; deflate is")
    try:
        with archive.open(entry) as packed:
            # One byte more than allowed: the size it claims may be a lie.
            content = packed.read(most + 1)
    except (BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, ValueError):
        return Member(entry.filename, None, "damaged")
    if len(content) > most:
        return Member(entry.filename, None, f"larger than {MEMBER_BYTES // 1_000_000} MB")
    return Member(entry.filename, content)
