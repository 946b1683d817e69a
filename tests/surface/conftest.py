"""The server in this process, with a case of its own for each test."""

from tests.web.conftest import client, stored

__all__ = ["client", "stored"]
