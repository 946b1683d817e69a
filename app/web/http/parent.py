"""A worker ends with the process that started it, however that ended: one left over would hold the port for good."""

import os
import signal
import threading
from multiprocessing import connection, parent_process

GRACE_S = 3.0


def end_with_parent() -> None:
    """Watch the starting process, if this is a worker: end in order when it is gone, and by force soon after."""
    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        connection.wait([parent.sentinel])
        os.kill(os.getpid(), signal.SIGTERM)
        threading.Event().wait(GRACE_S)
        os._exit(1)

    threading.Thread(target=watch, name="fishplate-parent", daemon=True).start()
