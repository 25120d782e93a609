"""What the trade knows of each kind of defect, and the ranking of its causes."""

from defectlog.guide.entry import Kind
from defectlog.guide.library import families, kind, kinds
from defectlog.guide.ranked import RankedCause, Ranking
from defectlog.guide.ranking import History, rank
from defectlog.guide.row import EntryError
from defectlog.guide.search import look_up, search

__all__ = [
    "EntryError",
    "History",
    "Kind",
    "RankedCause",
    "Ranking",
    "families",
    "kind",
    "kinds",
    "look_up",
    "rank",
    "search",
]
