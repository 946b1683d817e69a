"""What can go wrong in the store.

``StoreError`` is the one to catch. ``Unavailable`` and ``LaterDatabase`` say that the database itself can't serve,
``Unreadable`` that one revision can't be read; the others are answers to the caller.
"""


class StoreError(Exception):
    """Base of all errors of the store."""


class NotFound(StoreError):  # noqa: N818 - an answer, not a breakdown
    """No such document, or no such revision of it."""


class Stale(StoreError):  # noqa: N818 - an answer, not a breakdown
    """Somebody else wrote first; ``current_version`` is what the document has now. Nothing was written."""

    def __init__(self, expected_version: int, current_version: int) -> None:
        super().__init__(f"the case has changed since: version {current_version} is current, not {expected_version}")
        self.current_version = current_version


class NothingToUndo(StoreError):  # noqa: N818 - an answer, not a breakdown
    """The document stands at its first revision."""


class NothingToRedo(StoreError):  # noqa: N818 - an answer, not a breakdown
    """No revision follows the current one."""


class NameTaken(StoreError):  # noqa: N818 - an answer, not a breakdown
    """Another what-if of the same construct has this name; nothing was written."""


class TooMany(StoreError):  # noqa: N818 - an answer, not a breakdown
    """The document has as many what-ifs as it may have; nothing was written."""


class BadName(StoreError):  # noqa: N818 - an answer, not a breakdown
    """Not a name for a what-if; the message says what is. Nothing was written."""


class BadPlace(StoreError):  # noqa: N818 - an answer, not a breakdown
    """No place in the list of cases that a page of it has named, in this order."""

    def __init__(self) -> None:
        super().__init__("no such place in the list of cases; begin at its first page")


class KeyReused(StoreError):  # noqa: N818 - an answer, not a breakdown
    """The key of a write was used for another write; nothing was written."""


class Unreadable(StoreError):  # noqa: N818 - reads as what it is
    """What is stored as a revision is no case that this version of the program can read; ``reason`` says why."""

    def __init__(self, document_id: str, revision_id: int, reason: str) -> None:
        super().__init__(f"revision {revision_id} of case {document_id} can't be read: {reason}")
        self.document_id = document_id
        self.revision_id = revision_id
        self.reason = reason


class Unavailable(StoreError):  # noqa: N818 - reads as what it is
    """The database can't serve; the message says why, and what to do.

    ``written`` is False where nothing was written, None where that isn't known: then read the document again.
    ``cause`` names the fault in a word for whoever runs the server, ``operator`` says what that person can do.
    """

    def __init__(self, message: str, written: bool | None = None, cause: str = "", operator: str = "") -> None:
        super().__init__(message)
        self.written = written
        self.cause = cause
        self.operator = operator


class LaterDatabase(StoreError):  # noqa: N818 - reads as what it is
    """The database was written by a later version of the program."""


class BackupRefused(StoreError):  # noqa: N818 - an answer, not a breakdown
    """No backup or restore was made, and nothing was changed; the message says why, and what to do."""
