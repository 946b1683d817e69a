"""Keys of writes: whoever gets no answer may send the same write again with the same key, and it happens once.

The header is that of draft-ietf-httpapi-idempotency-key-header (IETF HTTPAPI working group; from memory): a string of
structured fields (RFC 9651, section 3.3.3), so in quotes; without them it is taken too. As the draft has it, a key
that comes with another write is refused with 422.
"""

import hashlib
import re
from collections.abc import Callable
from typing import Annotated

from fastapi import Depends, Form, Header, HTTPException

from app.store import Once

KEY = re.compile(r'"?([A-Za-z0-9._:/+=-]{1,100})"?')
SAYS = 'A key of its own for each write, as in `"8e03978e-40d5-43dd-bc93-6894a57f9324"`; a repeat happens once.'

Keyed = Callable[..., Once | None]


def once(key: str | None, *what: str) -> Once | None:
    """The key with a fingerprint of what is to be written, given in words that say all of it.

    Raises:
        HTTPException: 400, it can't be a key.
    """
    if not key:
        return None
    match = KEY.fullmatch(key.strip())
    if match is None:
        raise HTTPException(400, "An Idempotency-Key has 1 to 100 letters, digits or signs out of . _ : / + = -")
    return Once(match.group(1), hashlib.sha256("\n".join(what).encode()).hexdigest())


def _header(idempotency_key: Annotated[str | None, Header(description=SAYS)] = None) -> Keyed:
    return lambda *what: once(idempotency_key, *what)


def _field(key: Annotated[str | None, Form()] = None) -> Keyed:
    return lambda *what: once(key, *what)


KeyInHeader = Annotated[Keyed, Depends(_header)]
KeyInForm = Annotated[Keyed, Depends(_field)]
