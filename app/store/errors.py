"""What can go wrong in the store.

``StoreError`` is the one to catch; ``NotFound``, ``Stale``, ``NothingToUndo``, ``NothingToRedo``, ``NameTaken`` and
``BadName`` are answers to the caller, ``Unavailable`` and ``LaterDatabase`` say that the database itself can't serve.
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


class BadName(StoreError):  # noqa: N818 - an answer, not a breakdown
    """Not a name for a what-if; the message says what is. Nothing was written."""


class Unavailable(StoreError):  # noqa: N818 - reads as what it is
    """The database didn't answer. A write that met this may or may not have been kept: read the document again."""


class LaterDatabase(StoreError):  # noqa: N818 - reads as what it is
    """The database was written by a later version of the program."""
