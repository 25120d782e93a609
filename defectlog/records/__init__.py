"""What the workshop keeps: tables, sessions and migrations."""

from defectlog.records.base import Record
from defectlog.records.builds import Build, BuildFact, Limit, Part
from defectlog.records.findings import CauseVerdict, Finding, FixDone, Outcome
from defectlog.records.lessons import Lesson, LessonState, LessonUse
from defectlog.records.measurements import Measurement
from defectlog.records.photos import Face, Mark, Photo, PhotoScale, PhotoStage, Shape
from defectlog.records.workshop import SavedForm, Workshop

__all__ = [
    "Build",
    "BuildFact",
    "CauseVerdict",
    "Face",
    "Finding",
    "FixDone",
    "Lesson",
    "LessonState",
    "LessonUse",
    "Limit",
    "Mark",
    "Measurement",
    "Outcome",
    "Part",
    "Photo",
    "PhotoScale",
    "PhotoStage",
    "Record",
    "SavedForm",
    "Shape",
    "Workshop",
]
