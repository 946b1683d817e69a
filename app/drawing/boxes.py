"""Boxes in a drawing, and how to set them side by side: mm, y downwards; nothing here knows what is in them."""

from collections.abc import Sequence

Box = tuple[float, float, float, float]  # left, top, right, bottom
Stretch = tuple[float, float]

ALIKE = 1e-6


def around(x: float, y: float, half: float) -> Box:
    """A square about a point."""
    return x - half, y - half, x + half, y + half


def overlap(one: Box, other: Box) -> bool:
    """Whether two boxes share more than an edge."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def nearest_free(wanted: float, within: Stretch, taken: list[Stretch], prefer: int = 1) -> float | None:
    """The place nearest to ``wanted`` that lies in none of the stretches taken; None: there is none.

    Of two equally near the one on the side preferred, 1 the right. With it the answer mirrors with the question.
    """
    low, high = within
    if low > high:
        return None
    start = min(max(wanted, low), high)
    taken = [(a + ALIKE, b - ALIKE) for a, b in taken]  # what only touches is free, however it was rounded
    if not any(a < start < b for a, b in taken):
        return start
    right = left = start
    for a, b in sorted(taken):
        if a < right < b:
            right = b
    for a, b in sorted(taken, key=_end, reverse=True):
        if a < left < b:
            left = a
    if right > high or left < low:
        return right if right <= high else left if left >= low else None
    farther = (right - wanted) - (wanted - left)
    if abs(farther) < ALIKE:
        return right if prefer > 0 else left
    return right if farther < 0 else left


def _end(stretch: Stretch) -> float:
    return stretch[1]


def blocked(obstacles: Sequence[Box], top: float, bottom: float, left: float, right: float) -> list[Stretch]:
    """Where the middle of a box from ``top`` to ``bottom`` can't be; it reaches so far left and right of its middle."""
    return [(box[0] - right, box[2] + left) for box in obstacles if box[1] < bottom and top < box[3]]


def spread(wanted: Sequence[float], gaps: Sequence[float], within: Stretch) -> list[float]:
    """Places in the order of ``wanted``, neighbours at least a gap apart, with the least sum of squared shifts.

    Neighbours that meet form a block about the mean of what they want (pool adjacent violators), so that places move
    steadily with what is wanted, and mirror with it. ``within`` is kept where there is room for all.
    """
    offsets = [0.0]
    for gap in gaps:
        offsets.append(offsets[-1] + gap)
    blocks: list[tuple[float, int]] = []  # sum and count
    for at, offset in zip(wanted, offsets, strict=True):
        total, count = at - offset, 1
        while blocks and blocks[-1][0] * count >= total * blocks[-1][1]:
            before = blocks.pop()
            total, count = total + before[0], count + before[1]
        blocks.append((total, count))
    low, high = within[0], within[1] - offsets[-1]
    if low > high:
        low = high = (low + high) / 2
    means = [min(max(total / count, low), high) for total, count in blocks for _ in range(count)]
    return [mean + offset for mean, offset in zip(means, offsets, strict=True)]
