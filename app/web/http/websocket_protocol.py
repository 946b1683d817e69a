"""The server's WebSocket protocol, fetched when the first page asks for it: importing it would hold up every start."""

import asyncio
from typing import Any

MOST_BYTES = 65_536  # of one message of the live line; its requests are a few hundred bytes


def protocol(*arguments: Any, **settings: Any) -> asyncio.Protocol:
    """What uvicorn calls for each connection that becomes a WebSocket."""
    from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

    return WebSocketsSansIOProtocol(*arguments, **settings)
