"""Documents that programs read are closed: every key is named in the schema, and no other is allowed."""

from pydantic import ConfigDict

CLOSED = ConfigDict(extra="forbid", title=None)
