"""Taking in what somebody uploads: one case file, or a library."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from app.case import Fault, InvalidCase, parse_case
from app.catalogue import Catalogue
from app.exchange.archive import MEMBER_BYTES, BadArchive, Member, is_zip, json_members
from app.exchange.library import is_index
from app.geometry import check_case
from app.store import Store


@dataclass(frozen=True, slots=True)
class Imported:
    """A case that is in the library now: the file it came from, its title and its document.

    ``twin`` is the file of the same upload that holds the same case, and so made or found the document; ``whatifs`` of
    the file were added to a document that lacked them.
    """

    file: str
    title: str
    document_id: str
    twin: str = ""
    whatifs: int = 0


@dataclass(frozen=True, slots=True)
class Refused:
    """A file that was left out, and everything wrong with it."""

    file: str
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What became of each file: kept as a new document, there already, or refused."""

    created: tuple[Imported, ...] = ()
    known: tuple[Imported, ...] = ()
    faults: tuple[Refused, ...] = ()


@dataclass(frozen=True, slots=True)
class Found:
    """One file read: whether the case was new, or why it was refused."""

    outcome: Imported | Refused
    new: bool = False


def import_upload(store: Store, catalogue: Catalogue, filename: str, data: bytes) -> ImportReport:
    """Keep the case of a case file, or all cases of a zip; a case that a document holds already makes no second one.

    A faulty file is reported and doesn't keep the others out. Whether it is a zip is told by the content, not by the
    name. The store's own errors are raised.
    """
    found = tuple(_import(store, catalogue, _members(filename, data)))
    done = [(one.outcome, one.new) for one in found if isinstance(one.outcome, Imported)]
    return ImportReport(
        tuple(outcome for outcome, new in done if new),
        tuple(outcome for outcome, new in done if not new),
        tuple(one.outcome for one in found if isinstance(one.outcome, Refused)),
    )


def _members(filename: str, data: bytes) -> Iterable[Member]:
    if is_zip(data):
        return _archived(filename, data)
    if len(data) > MEMBER_BYTES:
        return (Member(filename, None, f"larger than {MEMBER_BYTES // 1_000_000} MB"),)
    return (Member(filename, data),)


def _archived(filename: str, data: bytes) -> Iterator[Member]:
    try:
        members = list(json_members(data))
    except BadArchive as refused:
        members = [Member(filename, None, str(refused))]
    if not members:
        members = [Member(filename, None, "no case file in the archive")]
    return iter(members)


def _import(store: Store, catalogue: Catalogue, members: Iterable[Member]) -> Iterator[Found]:
    first: dict[str, str] = {}  # of each document, the file that came first
    for member in members:
        if member.content is None:
            yield Found(Refused(member.name, (Fault("", member.fault),)))
        elif not _is_index(member):
            yield _keep(store, catalogue, member.name, member.content, first)


def _is_index(member: Member) -> bool:
    try:
        return is_index(json.loads(member.content or b""))
    except (ValueError, RecursionError):
        return False


def _keep(store: Store, catalogue: Catalogue, name: str, content: bytes, first: dict[str, str]) -> Found:
    try:
        case = parse_case(content)
        faults = check_case(case, catalogue)
        if faults:
            raise InvalidCase(faults)
    except InvalidCase as invalid:
        return Found(Refused(name, invalid.faults))
    snapshot, new, added = store.merge_case(case)
    twin = first.setdefault(snapshot.id, name)
    return Found(Imported(name, case.title, snapshot.id, "" if twin == name else twin, 0 if new else added), new)
