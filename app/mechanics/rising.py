"""The root of a rising function, for amounts of tightening that end where a force reaches its limit."""

from collections.abc import Callable

ROOT_ROUNDS = 100  # those that occur end within ten
PRECISE = 1e-9  # of the difference of the function's values at both ends


def rising_root(function: Callable[[float], float], low_value: float, high_value: float) -> float:
    """Root in 0…1 of a rising function by regula falsi with halving (Illinois algorithm).

    `low_value` and `high_value` are its values at 0 and 1. The value of an end that stays twice in a row is halved:
    without that it might stay for ever where the function bends, and if it were halved each time, a step would no
    longer meet the root of a straight piece at once. A piecewise linear function ends within a few rounds. Source:
    Dowell & Jarratt, BIT 1971;11:168-174 (from memory).
    """
    low, high = 0.0, 1.0
    middle, kept = high, 0
    for _ in range(ROOT_ROUNDS):
        middle = low + (high - low) * -low_value / (high_value - low_value)
        value = function(middle)
        if abs(value) <= PRECISE * (high_value - low_value):
            break
        if value > 0.0:
            high, high_value, low_value, kept = middle, value, low_value * (0.5 if kept < 0 else 1.0), -1
        else:
            low, low_value, high_value, kept = middle, value, high_value * (0.5 if kept > 0 else 1.0), 1
    return middle
