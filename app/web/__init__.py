"""The pages and the JSON API: parse, call, render."""

from app.web.application import create_app
from app.web.settings import Settings

__all__ = ["Settings", "create_app"]
