"""In and out: case files, a whole library in one zip, and drawings as pictures."""

from app.exchange.library import library_zip
from app.exchange.picture import drawing_png
from app.exchange.upload import Found, Imported, ImportReport, Refused, import_upload

__all__ = ["Found", "ImportReport", "Imported", "Refused", "drawing_png", "import_upload", "library_zip"]
