"""The server in this process, with a case of its own for each test."""

from tests.client import client, stored

__all__ = ["client", "stored"]
