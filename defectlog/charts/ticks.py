"""Round numbers for an axis."""

import math


def nice_ticks(low: float, high: float, most: int = 6) -> tuple[float, ...]:
    """At most ``most`` round numbers, evenly spaced, that reach from low to high and past them.

    Steps are 1, 2 or 5 times a power of ten.
    """
    if high <= low:
        high = low + (abs(low) or 1.0)
    rough = (high - low) / (most - 1)
    power = 10.0 ** math.floor(math.log10(rough))
    for factor in (1, 2, 5, 10, 20):
        step = factor * power
        first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
        if last - first < most:
            break
    # Whole multiples of the step, written without the dust of adding it up.
    places = max(0, -math.floor(math.log10(step)))
    return tuple(round(number * step, places) for number in range(first, last + 1))
