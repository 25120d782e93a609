"""The clock of one build: when it was poured, demoulded, post-cured, mended and let go."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from defectlog.demo.shots import Shot
from defectlog.facts import Stage
from defectlog.records import PhotoStage

# Hours after the start of the build, which is at 8:40.
_LAID_H, _BAGGED_H, _POURED_H = 1.5, 3.0, 3.8
_NOT_BEFORE_H = 24.4  # nobody stands at the mould before nine the next morning
_FILLED_AND_NOTED_H = 0.7
# Facts of the cure that are known only once the part has been in the oven for a night.
POSTCURE = ("postcure_c", "postcure_h")
_MENDED_DAYS, _DECIDED_DAYS = 3, 4


@dataclass(frozen=True, slots=True)
class Clock:
    """When things happened on a build, from its start and from how long it cured."""

    start: datetime
    cure_h: float
    demould_after_h: float

    @classmethod
    def of(cls, start: datetime, known: Mapping[str, Any]) -> "Clock":
        """The clock by the facts of a build; of one still on the mould, by a day's cure."""
        return cls(start, known.get("cure_h", 24.0), known.get("demould_after_h", 25.0))

    @property
    def poured(self) -> datetime:
        """When the resin was mixed: late in the day where the part was out early the next."""
        return self._after(max(_POURED_H, _NOT_BEFORE_H - self.demould_after_h))

    @property
    def demoulded(self) -> datetime:
        return self.poured + timedelta(hours=self.demould_after_h)

    def noted(self, stage: Stage) -> datetime:
        """When the facts of a stage were written down."""
        return {
            Stage.LAYUP: self._after(_LAID_H),
            Stage.BAG: self._after(_BAGGED_H),
            Stage.RESIN: self.poured + timedelta(hours=_FILLED_AND_NOTED_H),
            Stage.CURE: self.poured + timedelta(hours=self.cure_h),
            Stage.DEMOULD: self.out(0.2),
            Stage.WEIGH: self.out(1.0),
        }[stage]

    def postcured(self) -> datetime:
        """When the part came out of the oven: on the working day after it was demoulded."""
        return _working_day(self.demoulded, 1).replace(hour=8, minute=50)

    def out(self, hours: float) -> datetime:
        """So many hours after the part was out of the mould."""
        return self.demoulded + timedelta(hours=hours)

    def mended(self, hours: float = 0.0) -> datetime:
        """So many hours after ten in the morning of the day something was mended."""
        return _working_day(self.start, _MENDED_DAYS).replace(hour=10) + timedelta(hours=hours)

    def decided(self, hours: float = 0.0) -> datetime:
        """So many hours after ten in the morning of the day the mended place was looked at."""
        return _working_day(self.start, _DECIDED_DAYS).replace(hour=10) + timedelta(hours=hours)

    def taken(self, shot: Shot) -> datetime:
        """When a photo was taken."""
        if shot.stage is PhotoStage.REPAIRED:
            return self.decided(shot.hours)
        return self.out(shot.hours)

    def _after(self, hours: float) -> datetime:
        return self.start + timedelta(hours=hours)


def _working_day(moment: datetime, days: int) -> datetime:
    """So many working days later: nobody works on a Saturday or a Sunday."""
    while days:
        moment += timedelta(days=1)
        days -= moment.weekday() < 5
    return moment
