"""Fishplate: a construct sketcher for plated long-bone shafts."""

import sys

# Any Python must be able to read this file, so that an old one says a sentence and not where it fails to parse.
if sys.version_info < (3, 11):  # noqa: UP036 - those who have an older one are told here
    sys.exit(
        "Fishplate needs Python 3.11 or newer, and this is Python %d.%d. "  # noqa: UP031
        "Install a newer one, and start with its name: python3.13 -m app" % sys.version_info[:2]
    )

__version__ = "0.1.0"
