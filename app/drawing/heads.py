"""Screw heads from above. Each role has its own shape and letter; colour comes second."""

import math

from app.drawing.svg import Point, disc, loop, num, run


def _cross(at: Point, r: float) -> str:
    x, y = at
    return run([(x - r, y), (x + r, y)]) + run([(x, y - r), (x, y + r)])


def _arrow(at: Point, r: float, towards: int) -> str:
    """An arrow along the shaft, towards distal (+1) or proximal (-1)."""
    x, y = at
    tip, wing = x + towards * r, 0.55 * r
    barb = [(tip - towards * wing, y - wing), (tip, y), (tip - towards * wing, y + wing)]
    return run([(x - towards * r, y), (tip, y)]) + run(barb)


def _bars(at: Point, r: float) -> str:
    x, y = at
    gap = 0.42 * r
    return run([(x - gap, y - r), (x - gap, y + r)]) + run([(x + gap, y - r), (x + gap, y + r)])


def _star(at: Point, r: float) -> list[Point]:
    """Eight square-cornered points: two squares, one turned by 45°."""
    inner = r * math.cos(math.pi / 4) / math.cos(math.pi / 8)
    reach = (r, inner * 0.94)
    step = math.pi / 8
    return [(at[0] + reach[k % 2] * math.cos(k * step), at[1] + reach[k % 2] * math.sin(k * step)) for k in range(16)]


def head(role: str, at: Point, r: float, towards: int) -> str:
    """Path data of a head of radius ``r``: its outline with its sign."""
    if role == "neutral":
        return disc(at, r) + _cross(at, 0.6 * r)
    if role == "eccentric":
        return disc(at, r) + _arrow(at, 0.62 * r, towards)
    if role == "lag":
        return disc(at, r) + _bars(at, 0.58 * r)
    return loop(_star(at, r))


def filled(role: str, at: Point, r: float) -> str | None:
    """Path data of what is inked solid in a head: the whole core for two cortices, half of it for one."""
    x, y = at
    q = 0.5 * r
    if role == "locking-2":
        return disc(at, q)
    if role == "locking-1":
        return f"M{num(x)},{num(y - q)}A{num(q)},{num(q)} 0 0 0 {num(x)},{num(y + q)}Z{disc(at, q)}"
    return None
