"""What a server is started with."""

from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import URL


@dataclass(frozen=True, slots=True)
class Settings:
    """``data_dir`` holds the SQLite file unless ``database_url`` names another database.

    ``stock`` and ``thresholds`` are a user's own tables, laid over the shipped ones. ``phrase`` lets people in (None:
    everybody), ``hosts`` are names the server goes by besides the loopback ones.
    """

    data_dir: Path
    database_url: str | None = None
    stock: Path | None = None
    thresholds: Path | None = None
    phrase: str | None = field(default=None, repr=False)
    hosts: tuple[str, ...] = ()

    @property
    def url(self) -> str:
        """The database's URL."""
        if self.database_url is not None:
            return self.database_url
        return URL.create("sqlite", database=str(self.data_dir / "fishplate.db")).render_as_string()
