"""Who is at the other end of a request: the name that stands beside what was done."""

from flask import g, has_request_context

from defectlog.bench.people import THIS_PC, Visitor

# The person at the machine itself, while the app is not open to the workshop network.
OWNER = Visitor(None, THIS_PC, may_change=True, keeps=True)


def visitor() -> Visitor | None:
    """Whoever sent this request; None for somebody who has not come in."""
    if not has_request_context():
        return OWNER
    # Whatever has not been through the door is a stranger.
    return g.get("visitor")  # type: ignore[no-any-return]


def who() -> str:
    """The name to be kept with a measurement or a decision: of the device, or "this PC"."""
    seen = visitor()
    return seen.name if seen else "nobody"
