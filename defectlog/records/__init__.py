"""What the workshop keeps: tables, sessions and migrations."""

from defectlog.records.base import Record
from defectlog.records.builds import Build, BuildFact, Limit, Part
from defectlog.records.findings import (
    CauseVerdict,
    CheckDone,
    Decision,
    Finding,
    FixDone,
    FixResult,
    Outcome,
)
from defectlog.records.kept_sets import KeptSet, KeptSetBuild
from defectlog.records.lessons import Lesson, LessonState, LessonUse
from defectlog.records.measurements import Measurement
from defectlog.records.own import (
    Counted,
    Elsewhere,
    ElsewhereCount,
    HouseNote,
    OwnCause,
    OwnFix,
    OwnKind,
)
from defectlog.records.people import CameBy, Device, FailedTry, PairingCode, Passphrase, Role
from defectlog.records.photos import (
    Face,
    LaterLook,
    Mark,
    Photo,
    PhotoScale,
    PhotoStage,
    Said,
    Shape,
)
from defectlog.records.print_checks import PrintCheck
from defectlog.records.seals import seal_of
from defectlog.records.trials import Trial, TrialLook, TrialResult, TrialRun, TrialState
from defectlog.records.workshop import SavedForm, Workshop

__all__ = [
    "Build",
    "BuildFact",
    "CameBy",
    "CauseVerdict",
    "CheckDone",
    "Counted",
    "Decision",
    "Device",
    "Elsewhere",
    "ElsewhereCount",
    "FailedTry",
    "Face",
    "Finding",
    "FixDone",
    "FixResult",
    "HouseNote",
    "KeptSet",
    "KeptSetBuild",
    "LaterLook",
    "Lesson",
    "LessonState",
    "LessonUse",
    "Limit",
    "Mark",
    "Measurement",
    "Outcome",
    "OwnCause",
    "OwnFix",
    "OwnKind",
    "PairingCode",
    "Part",
    "Passphrase",
    "Photo",
    "PhotoScale",
    "PhotoStage",
    "PrintCheck",
    "Record",
    "Role",
    "Said",
    "SavedForm",
    "Shape",
    "Trial",
    "TrialLook",
    "TrialResult",
    "TrialRun",
    "TrialState",
    "Workshop",
    "seal_of",
]
