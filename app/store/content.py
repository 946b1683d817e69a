"""How a case is written into the database, and what makes two cases the same."""

import hashlib
import json
import re
import unicodedata

from app.case import Case

FILE_NAME_LENGTH = 60
FIRST_FORMAT = "fishplate-case/1"
BESIDE = {"whatifs"}


def body_of(case: Case) -> bytes:
    """The case as JSON text in UTF-8, as stored: what-ifs are kept in a table of their own."""
    return case.model_dump_json(exclude=BESIDE).encode()


def hash_of(case: Case) -> bytes:
    """SHA-256 of the case's canonical JSON: sorted keys, no spaces, what equals its default left out.

    Leaving the defaults out keeps the hashes of stored cases right when a later format adds a field with a default, and
    so does naming the first format whatever today's is called.
    """
    document = {**case.model_dump(mode="json", exclude_defaults=True, exclude=BESIDE), "format": FIRST_FORMAT}
    canonical = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(canonical.encode()).digest()


def file_bytes(case: Case) -> bytes:
    """The case file: UTF-8 JSON, indented for people to read."""
    return case.model_dump_json(indent=2).encode() + b"\n"


def file_name(title: str, document_id: str) -> str:
    """A file name from plain ASCII letters, digits and hyphens; the id keeps equal titles apart."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain)[:FILE_NAME_LENGTH].strip("-")
    return f"{words or 'case'}-{document_id}.json"


def stored_name(document_id: str, revision_id: int) -> str:
    """A file name for a revision as it lies in the database."""
    return f"stored-{document_id}-{revision_id}.json"
