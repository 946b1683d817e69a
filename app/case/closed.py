"""Documents that programs read are closed: every key is named in the schema, and no other is allowed."""

from pydantic import ConfigDict

# Checks are built when a document is first written or its schema is asked for: no start should wait for them.
CLOSED = ConfigDict(extra="forbid", title=None, defer_build=True)
