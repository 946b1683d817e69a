"""How each class looks. Widths and sizes are attributes of the drawing, since they scale with its window."""

import re

from app.drawing.palette import PALETTES
from app.drawing.typeface import FONT

# Shapes drawn through <use> are styled in a tree of their own, where ``.drawing`` is no ancestor: no prefix there.
RULES = """\
.drawing { color: var(--draw-ink); font-family: FONT; text-rendering: geometricPrecision; }
.drawing text { fill: var(--draw-ink); }
.drawing .soft { fill: var(--draw-soft); }
.drawing .halo { stroke: var(--draw-paper); paint-order: stroke; stroke-linejoin: round; }
.drawing .halo-canal { stroke: var(--draw-canal); paint-order: stroke; stroke-linejoin: round; }
.drawing .sheet { fill: var(--draw-paper); stroke: none; }
.drawing .line { fill: none; stroke: var(--draw-ink); }
.drawing .fine { fill: none; stroke: var(--draw-soft); }
.drawing .axis { fill: none; stroke: var(--draw-soft); }
.drawing .hatch-line { fill: none; stroke: var(--draw-hatch); }
.drawing .plate-hatch-line { fill: none; stroke: var(--draw-plate-hatch); }
.drawing .canal { fill: var(--draw-canal); stroke: none; }
.drawing .bone { fill: var(--draw-bone); stroke: none; }
.drawing .metal { fill: var(--draw-metal); stroke: var(--draw-ink); stroke-linejoin: round; }
.hole-rim { fill: var(--draw-plate-hatch); fill-opacity: 0.35; stroke: var(--draw-ink); stroke-linejoin: round; }
.hole-opening { fill: var(--draw-bone); stroke: var(--draw-ink); stroke-linejoin: round; }
.drawing .edge { stroke: var(--draw-ink); stroke-linejoin: round; }
.drawing .core { fill: var(--draw-ink); stroke: var(--draw-ink); }
.drawing .drilled { fill: var(--draw-paper); stroke: var(--draw-ink); }
.drawing .neutral { fill: var(--draw-neutral); stroke: var(--draw-ink); stroke-linejoin: round; }
.drawing .eccentric { fill: var(--draw-eccentric); stroke: var(--draw-ink); stroke-linejoin: round; }
.drawing .lag { fill: var(--draw-lag); stroke: var(--draw-ink); stroke-linejoin: round; }
.drawing .locking-2, .drawing .locking-1 { fill: var(--draw-locking); stroke: var(--draw-ink); stroke-linejoin: round; }
.drawing .solid { fill: var(--draw-ink); stroke: none; }
.drawing .fracture { fill: none; stroke: var(--draw-fracture); stroke-linecap: round; stroke-linejoin: round; }
.drawing .arc { fill: none; stroke: var(--draw-fracture); }
.drawing .gap { fill: var(--draw-paper); stroke: none; }
.drawing .shard { fill: var(--draw-shard); stroke: var(--draw-ink); stroke-linejoin: round; }
.drawing .knob { fill: var(--draw-paper); stroke: var(--draw-handle); stroke-linejoin: round; }
.drawing .leader { fill: none; stroke: var(--draw-handle); }
.drawing .stress { fill: var(--draw-metal); fill-opacity: 0.75; stroke: var(--draw-ink); stroke-linejoin: round; }
.drawing .limit { fill: none; stroke: var(--draw-fracture); }
.flag-stop { fill: var(--draw-stop); stroke: var(--draw-paper); }
.flag-caution { fill: var(--draw-caution); stroke: var(--draw-paper); }
.flag-note { fill: var(--draw-note); stroke: var(--draw-paper); }
.flag-sign { fill: none; stroke: var(--draw-paper); stroke-linecap: round; }
.drawing .warned-stop .number { fill: var(--draw-stop); font-weight: 600; }
.drawing .warned-caution .number { fill: var(--draw-caution); font-weight: 600; }
.drawing .warned-note .number { fill: var(--draw-note); font-weight: 600; }
.drawing .thumb-bone { fill: var(--draw-bone); stroke: var(--draw-soft); }
.drawing .thumb-canal { fill: var(--draw-canal); stroke: none; }
.drawing .thumb-gap { fill: var(--draw-paper); stroke: none; }
.drawing .thumb-fracture { fill: none; stroke: var(--draw-fracture); }
.drawing .thumb-metal { fill: var(--draw-metal); stroke: var(--draw-ink); }
.drawing .thumb-line { fill: none; stroke: var(--draw-ink); }
""".replace("FONT", FONT)

_VARIABLE = re.compile(r"var\(--draw-([a-z-]+)\)")


def in_either(class_prefix: str) -> str:
    """The rules for classes that begin so, in light and dark as whoever shows the file has it."""
    rules = "\n".join(line for line in RULES.splitlines() if line.startswith(f".drawing .{class_prefix}"))
    light, dark = _written_out(rules, "light"), _written_out(rules, "dark")
    return f"{light}\n@media (prefers-color-scheme: dark) {{\n{dark}\n}}\n"


def embedded(theme: str) -> str:
    """The rules with a theme's colours written out, for a file that stands alone."""
    return _written_out(RULES, theme)


def _written_out(rules: str, theme: str) -> str:
    palette = PALETTES[theme]
    return _VARIABLE.sub(lambda match: palette[match[1]], rules)
