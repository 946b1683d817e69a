"""The colours, by what they are for. Shape and letter tell roles apart first; colour only helps.

``static/css/drawing.css`` repeats these values as custom properties; a test keeps the two in step.
"""

from typing import Literal

Theme = Literal["page", "light", "dark", "print"]

Palette = dict[str, str]

LIGHT: Palette = {
    "paper": "#fdfcf9",
    "ink": "#1c2530",
    "soft": "#56606b",
    "bone": "#f5ecd9",
    "canal": "#fbf7ec",
    "hatch": "#b59a68",
    "metal": "#dfe5ea",
    "plate-hatch": "#7f8c99",
    "neutral": "#c3ced8",
    "eccentric": "#e6a3b5",
    "lag": "#8fc1ea",
    "locking": "#c9b3e6",
    "fracture": "#9c1f2e",
    "shard": "#e4cfa6",
    "handle": "#0b5cad",
    "focus": "#0b5cad",
    "stop": "#b3201a",
    "caution": "#9a4d00",
    "note": "#2b5f8f",
}

DARK: Palette = {
    "paper": "#12181f",
    "ink": "#e8ecf0",
    "soft": "#a3aeb9",
    "bone": "#3a3427",
    "canal": "#211f1a",
    "hatch": "#84744f",
    "metal": "#3d4853",
    "plate-hatch": "#7d8a97",
    "neutral": "#5b6a78",
    "eccentric": "#83465a",
    "lag": "#23598a",
    "locking": "#614a86",
    "fracture": "#ff8f8f",
    "shard": "#6b5d3d",
    "handle": "#7cc0ff",
    "focus": "#9ad0ff",
    "stop": "#ff9a90",
    "caution": "#f7b45c",
    "note": "#8cc4f5",
}

PRINT: Palette = {
    "paper": "#ffffff",
    "ink": "#000000",
    "soft": "#333333",
    "bone": "#ffffff",
    "canal": "#ffffff",
    "hatch": "#8a8a8a",
    "metal": "#ffffff",
    "plate-hatch": "#555555",
    "neutral": "#ffffff",
    "eccentric": "#ffffff",
    "lag": "#ffffff",
    "locking": "#ffffff",
    "fracture": "#000000",
    "shard": "#dddddd",
    "handle": "#000000",
    "focus": "#000000",
    "stop": "#000000",
    "caution": "#000000",
    "note": "#000000",
}

PALETTES: dict[str, Palette] = {"light": LIGHT, "dark": DARK, "print": PRINT}


def variables(palette: Palette) -> str:
    """The palette as custom properties, one a line."""
    return "\n".join(f"  --draw-{name}: {colour};" for name, colour in palette.items())
