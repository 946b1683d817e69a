"""Which of several bones is fixed first."""

from app.geometry import Layout


def bone_order(layouts: tuple[Layout, ...]) -> tuple[int, ...]:
    """Indices of the constructs in the order of fixing: the simpler fracture first, equal ones in the order given.

    The reduction of the simpler one gives the length that the other bone is fitted to. Source: AO Surgery Reference,
    forearm, both bones: expose both, reduce and provisionally fix the simpler, less comminuted one first.
    """
    return tuple(sorted(range(len(layouts)), key=lambda index: (*_complexity(layouts[index]), index)))


def _complexity(layout: Layout) -> tuple[float, ...]:
    """Sort key that grows with comminution: zone without load-bearing bone, number of lines, wedge, fracture length."""
    fracture = layout.fracture
    zone = sum(line.zone_mm for line in fracture.lines)
    return (zone > 0, len(fracture.lines), fracture.wedge is not None, zone, round(fracture.length_mm, 3))
