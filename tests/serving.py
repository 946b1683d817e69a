"""Fishplate on a port of its own, in a thread of the test's own process."""

import threading
import time
from pathlib import Path

import uvicorn

from app.web import Settings, create_app


class Server:
    """Fishplate on a free port (or a given one), in a thread."""

    def __init__(self, data_dir: Path, phrase: str | None = None, port: int = 0) -> None:
        self.app = create_app(Settings(data_dir=data_dir, phrase=phrase))
        config = uvicorn.Config(
            self.app,
            host="127.0.0.1",
            port=port,
            log_level="error",
            timeout_graceful_shutdown=1,
            http="app.web.http.connections:Limited",
            ws="app.web.http.websocket_protocol:protocol",
        )
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, daemon=True)

    def start(self) -> str:
        self.thread.start()
        for _ in range(400):
            if self.server.started:
                port = self.server.servers[0].sockets[0].getsockname()[1]
                return f"http://127.0.0.1:{port}"
            time.sleep(0.025)
        raise RuntimeError("the server did not start within 10 s")

    def stop(self) -> None:
        self.app.state.server.changes.close()  # as a signal to stop does, which a thread doesn't get
        self.server.should_exit = True
        self.thread.join(timeout=10)
