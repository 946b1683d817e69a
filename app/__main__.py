"""``python3 -m app`` from a fresh clone: set up what is missing, then serve. More words go to ``fishplate serve``."""

import os
import sys

from app.environment import install

if __name__ == "__main__":
    interpreter = str(install())
    os.execv(interpreter, [interpreter, "-m", "app.cli", "serve", *sys.argv[1:]])
