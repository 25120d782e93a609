"""On which side of the surface's own light its voids show."""

from typing import Literal

Look = Literal["dark", "bright"]
