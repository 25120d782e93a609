"""Builds whose bag leaked: a known upset, worth telling apart from the way a part is made."""

from collections.abc import Mapping
from typing import Any

from defectlog.derived import DERIVED, derive

# What has to be known of a build to tell: the drop test, and what eases its classes.
LEAK_FACTS = (*DERIVED["drop_class"].needs, "vacuum_lost")


def leaked(known: Mapping[str, Any]) -> bool:
    """Whether the drop test was marginal or failed, or vacuum was lost before gel.

    A build of which neither is known counts as sound.
    """
    return bool(known.get("vacuum_lost")) or derive(known).get("drop_class") in ("marginal", "fail")
