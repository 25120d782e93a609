"""Builds whose bag leaked: a known upset, worth telling apart from the way a part is made."""

from collections.abc import Mapping
from typing import Any

from defectlog.derived import DERIVED, derive, leak_rate_mbar_min
from defectlog.units import with_unit

# What has to be known of a build to tell: the drop test, and what eases its classes.
LEAK_FACTS = (*DERIVED["drop_class"].needs, "vacuum_lost")


def leaked(known: Mapping[str, Any]) -> bool:
    """Whether the drop test was marginal or failed, or vacuum was lost before gel.

    A build of which neither is known counts as sound.
    """
    return bool(known.get("vacuum_lost")) or derive(known).get("drop_class") in ("marginal", "fail")


def leak_words(known: Mapping[str, Any]) -> str:
    """How it is known that the bag leaked: ``The bag leaked: 5.6 mbar/min in the drop test``."""
    rate = leak_rate_mbar_min(known)
    if derive(known).get("drop_class") in ("marginal", "fail") and rate is not None:
        return f"The bag leaked: {with_unit(rate, 'mbar/min', 2)} in the drop test"
    return "The bag leaked: vacuum was lost before the resin gelled"
