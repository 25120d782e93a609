"""Marked changes over a chart: their words in rows, where no line strikes through any of them."""

from collections.abc import Sequence
from dataclasses import dataclass

# Parts of the height of a letter: how wide one is, a row, the space to a line, and how near
# another line may come before it touches.
_WIDE, _ROW, _GAP, _NEAR = 0.56, 1.35, 0.4, 0.3


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """A marked change: an upright line before a point, and words beside its top."""

    x: float
    top: float
    words: str
    words_x: float
    words_y: float
    anchor: str


@dataclass(frozen=True, slots=True)
class _Flag:
    """Words beside their line: from ``left`` to ``right``, the line at ``x``."""

    x: float
    words: str
    left: float
    right: float
    anchor: str

    def is_struck_by(self, x: float, near: float) -> bool:
        return self.left - near < x < self.right + near

    def overlaps(self, other: "_Flag") -> bool:
        ends = (min(self.left, self.x), max(self.right, self.x))
        others = (min(other.left, other.x), max(other.right, other.x))
        return ends[0] <= others[1] and others[0] <= ends[1]


def lay_changes(
    changes: Sequence[tuple[float, str]], *, letter: float, width: float, above: float
) -> tuple[float, tuple[ChangeLine, ...]]:
    """Stack the words so that none lie on each other and no line crosses any.

    Parameters
    ----------
    changes : (x, words), in order of x
    letter : height of a letter
    width : of the drawing, from 0
    above : where the first row begins, y downwards

    Returns
    -------
    (y, lines)
        Where the field below the words may begin, and the changes in the order given.

    Notes
    -----
    A line runs from its own row down to the foot of the chart. So where it would pass through
    words, it has to begin below them. Words stand right of their line; left of it where they
    would run off the drawing, or where two would have to begin below each other.
    """
    flags = _flags(changes, letter, width)
    near = _NEAR * letter
    # below[i]: the changes that begin above i, for i's line would strike their words.
    below = [
        {j for j, other in enumerate(flags) if j != i and other.is_struck_by(flag.x, near)}
        for i, flag in enumerate(flags)
    ]
    rows: dict[int, int] = {}
    while len(rows) < len(flags):
        left = [i for i in range(len(flags)) if i not in rows]
        i = next((i for i in left if below[i] <= rows.keys()), left[0])
        row = max((rows[j] + 1 for j in below[i] if j in rows), default=0)
        while any(at == row and flags[i].overlaps(flags[j]) for j, at in rows.items()):
            row += 1
        rows[i] = row
    height = _ROW * letter
    return above + height * (max(rows.values(), default=-1) + 1), tuple(
        ChangeLine(
            x=flag.x,
            top=round(above + height * rows[i], 2),
            words=flag.words,
            words_x=round(flag.left if flag.anchor == "start" else flag.right, 2),
            words_y=round(above + height * rows[i] + 0.8 * letter, 2),
            anchor=flag.anchor,
        )
        for i, flag in enumerate(flags)
    )


def _flags(changes: Sequence[tuple[float, str]], letter: float, width: float) -> list[_Flag]:
    """Right or left of the line, decided from the right: what stands left there binds the rest."""
    gap, near = _GAP * letter, _NEAR * letter
    flags: list[_Flag] = []
    for x, words in reversed(changes):
        length = _WIDE * letter * len(words)
        flag = _Flag(x, words, x + gap, x + gap + length, "start")
        bound = any(
            other.is_struck_by(x, near) and flag.is_struck_by(other.x, near) for other in flags
        )
        if flag.right > width or (bound and x - gap - length >= 0):
            right = max(x - gap, length)  # words longer than the place left of the line
            flag = _Flag(x, words, right - length, right, "end")
        flags.insert(0, flag)
    return flags
