"""``python3 -m app`` from a fresh clone: set up what is missing, then serve. Further words go to ``fishplate serve``."""

import os
import sys

from app.environment import install

if __name__ == "__main__":
    interpreter = str(install())
    os.execv(interpreter, [interpreter, "-m", "app.cli", "serve", *sys.argv[1:]])  # noqa: S606 - our own interpreter
