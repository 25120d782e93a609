"""On which side of the surface's own light its voids show."""

from typing import Literal

Look = Literal["dark", "bright"]


def sign_of(look: Look) -> float:
    """1.0 where voids lack light, -1.0 where they have more of it."""
    return 1.0 if look == "dark" else -1.0
