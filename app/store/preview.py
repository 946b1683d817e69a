"""Previews: what somebody is trying out on a case at this moment. They are passed on, and never kept."""

import json
from dataclasses import dataclass, replace
from typing import Any

EDIT_BYTES = 6000  # a NOTIFY of PostgreSQL carries less than 8000 bytes


@dataclass(frozen=True, slots=True)
class Preview:
    """An edit being tried on one construct of a version; ``edit`` None: nothing is tried any more.

    ``seq`` is the sketcher's own count, and ``hand`` tells one sketching page from the next; "" where it doesn't say.
    The edit is a decoded JSON document, as ``parse_edit`` reads it.
    """

    version: int
    construct: int
    edit: dict[str, Any] | None
    seq: int
    hand: str = ""

    def fitted(self) -> "Preview":
        """The same, or without its edit where that is too long to pass on: followers then see the commit only."""
        if len(_json(self.edit).encode()) <= EDIT_BYTES:
            return self
        return replace(self, edit=None)

    def comes_late(self, heard: "Preview | None") -> bool:
        """Whether it is older than what was heard from the same hand: it was overtaken on its way."""
        return heard is not None and bool(self.hand) and self.hand == heard.hand and self.seq < heard.seq


@dataclass(frozen=True, slots=True)
class Message:
    """A preview on its way between processes; ``sender`` is the process it came from."""

    sender: str
    document_id: str
    preview: Preview


def written(message: Message) -> str:
    """The message as one line of ASCII."""
    told = message.preview
    return _json([message.sender, message.document_id, told.version, told.construct, told.seq, told.edit, told.hand])


def read(line: str) -> Message | None:
    """The message of a line; None if it isn't one, for anybody may write to a channel."""
    try:
        sender, document_id, version, construct, seq, edit, hand = json.loads(line)
    except (ValueError, TypeError, RecursionError):
        return None
    numbers = all(type(number) is int and number >= 0 for number in (version, construct, seq))
    texts = isinstance(sender, str) and isinstance(document_id, str) and isinstance(hand, str)
    if not (numbers and texts and (edit is None or isinstance(edit, dict))):
        return None
    return Message(sender, document_id, Preview(version, construct, edit, seq, hand))


def _json(value: object) -> str:
    return json.dumps(value, separators=(",", ":"))
