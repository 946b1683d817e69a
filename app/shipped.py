"""Where templates, static files and sample cases lie: inside an installed package, or beside it in a checkout."""

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent


def folder(name: str) -> Path:
    """The folder of that name.

    Raises:
        FileNotFoundError: neither shipped nor in the checkout; the installation is incomplete.
    """
    for place in (PACKAGE / "_shipped" / name, PACKAGE.parent / name):
        if place.is_dir():
            return place
    message = f"the folder {name} is missing; install the package again"
    raise FileNotFoundError(message)


def typefaces() -> Path:
    """The folder with the typeface's files: the only fonts that pages, drawings, pictures and sheets need."""
    return folder("static") / "fonts"
