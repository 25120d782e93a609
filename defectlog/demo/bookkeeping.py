"""One build after another entered into the records, through the bench."""

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlalchemy.orm import Session

from defectlog.bench.builds import release_build, save_facts, start_build
from defectlog.bench.decisions import decide, judge_cause, save_note
from defectlog.bench.findings import add_mark, open_finding
from defectlog.bench.fixes import look_again, record_fix
from defectlog.bench.intake import record
from defectlog.bench.lessons import set_lesson_state, use_lesson, write_lesson
from defectlog.bench.measuring import keep_measurement
from defectlog.bench.parts import rename_workshop, save_part
from defectlog.bench.trial_deal import TrialPlan, plan_trial
from defectlog.bench.trial_plan import guessed, known_spread, size_trial
from defectlog.bench.trial_verdict import decide_trial
from defectlog.bench.trials import find_trial, progress, start_run
from defectlog.demo.conditions import facts_of
from defectlog.demo.darkroom import Print
from defectlog.demo.hours import POSTCURE, Clock
from defectlog.demo.plot import BuildPlan, Learnt, Progress, Trouble
from defectlog.demo.recipes import RECIPES
from defectlog.demo.shots import Shot
from defectlog.demo.spec import DrawnDefect, Outline
from defectlog.demo.story import WORKSHOP
from defectlog.demo.trials import TRIALS, TrialStory
from defectlog.facts import Stage
from defectlog.records import (
    Build,
    Finding,
    FixResult,
    LessonState,
    Outcome,
    PhotoStage,
    Shape,
    TrialResult,
)
from defectlog.records.session import Records

# When a finding is opened and its cause found, in hours after demoulding.
_LOOKED_H, _CAUSE_H = 1.2, 2.0
_MOST_CORNERS = 14


class Bookkeeper:
    """Keeps the records of the invented workshop: parts first, then build after build."""

    def __init__(self, records: Records, now: datetime) -> None:
        self._records = records
        self._now = now
        self._parts: dict[str, int] = {}
        # What has been learnt so far: the lesson's number, its part, and how it ended.
        self._learnt: dict[str, tuple[int, str, Learnt]] = {}
        self._given_up: set[str] = set()
        # Trials by label: their number, and the clock of the panel made last.
        self._trials: dict[str, tuple[int, Clock]] = {}

    def open_shop(self) -> None:
        """Name the workshop and enter its parts."""
        with self._records.write() as session, session.begin():
            rename_workshop(session, WORKSHOP)
            for key, recipe in RECIPES.items():
                self._parts[key] = save_part(session, recipe.plan).id

    def enter(
        self, number: int, plan: BuildPlan, clock: Clock, prints: Sequence[tuple[Shot, Print]]
    ) -> None:
        """Enter one build with all that is known of it by now."""
        with self._records.write() as session, session.begin():
            build = self._start(session, plan, clock)
            build.note = plan.note
            self._note_facts(session, build, plan, number, clock)
            self._apply_lessons(session, plan, build, clock)
            photos = [self._take_in(session, build, clock, shot, made) for shot, made in prints]
            for index, trouble in enumerate(plan.troubles):
                self._find(session, build, clock, index, trouble, photos)
            if plan.progress is Progress.RELEASED:
                release_build(session, build.id, self._by_now(clock.decided(4)))

    def settle_trials(self) -> None:
        """Give the verdict of the trials whose panels are all in."""
        for number, last in self._trials.values():
            with self._records.write() as session, session.begin():
                if progress(session, find_trial(session, number)).is_complete:
                    decide_trial(session, number, at=self._by_now(last.decided(5)))

    def settle_lessons(self) -> None:
        """Say which lessons were kept, now that later builds have shown it."""
        with self._records.write() as session, session.begin():
            for lesson, _, learnt in self._learnt.values():
                set_lesson_state(session, lesson, learnt.state, reason=learnt.reason)

    def _start(self, session: Session, plan: BuildPlan, clock: Clock) -> Build:
        """Start a build; the first panel of a trial comes the day after the trial was planned."""
        if not plan.trial:
            return start_build(session, self._parts[plan.part], clock.start)
        if plan.trial not in self._trials:
            story = next(story for story in TRIALS if story.label == plan.trial)
            planned = trial_plan(session, self._parts[plan.part], story)
            at = clock.start - timedelta(days=1)
            trial = plan_trial(session, planned, at=at, seed=story.seed)
            self._trials[plan.trial] = (trial.id, clock)
        number, _ = self._trials[plan.trial]
        self._trials[plan.trial] = (number, clock)
        panel = progress(session, find_trial(session, number)).next_run
        if panel is None:
            raise ValueError(f"trial {plan.trial} has no panel left")
        return start_run(session, number, panel.number, at=clock.start)

    def _by_now(self, moment: datetime) -> datetime:
        return min(moment, self._now)

    def _note_facts(
        self, session: Session, build: Build, plan: BuildPlan, number: int, clock: Clock
    ) -> None:
        for stage, facts in facts_of(plan, number, RECIPES[plan.part], clock.start).items():
            # The oven comes after the mould, so its facts are noted a day later than the cure's.
            later = {name: facts.pop(name) for name in POSTCURE if name in facts}
            if facts:
                save_facts(session, build.id, facts, self._by_now(clock.noted(stage)))
            if later and clock.postcured() <= self._now:
                save_facts(session, build.id, later, clock.postcured())

    def _apply_lessons(self, session: Session, plan: BuildPlan, build: Build, clock: Clock) -> None:
        """Tick or skip the lessons on the lay-up sheet; on the newest builds nobody has yet."""
        if plan.progress is not Progress.RELEASED:
            return
        for label, (lesson, part, learnt) in self._learnt.items():
            if part != plan.part or label in self._given_up:
                continue
            at = self._by_now(clock.noted(Stage.LAYUP))
            use_lesson(session, lesson, build.id, label not in plan.skips, at)
            if learnt.state is LessonState.DROPPED:
                self._given_up.add(label)  # tried once, and never again

    def _take_in(
        self, session: Session, build: Build, clock: Clock, shot: Shot, made: Print
    ) -> tuple[Shot, Print, int]:
        at = self._by_now(clock.taken(shot) + timedelta(minutes=5))
        photo = record(
            session,
            build.id,
            made.arrival,
            name=shot.name,
            face=shot.face,
            stage=shot.stage,
            at=at,
        ).photo
        session.flush()
        if made.measured is not None:
            keep_measurement(session, photo.id, made.measured, region=made.region, at=at)
        return shot, made, photo.id

    def _find(
        self,
        session: Session,
        build: Build,
        clock: Clock,
        index: int,
        trouble: Trouble,
        photos: Sequence[tuple[Shot, Print, int]],
    ) -> None:
        """One trouble: its finding, its marks, its cause, its fix, its outcome, its lesson."""
        looked = self._by_now(clock.out(_LOOKED_H))
        decided = self._by_now(clock.decided(3.5))
        finding = open_finding(session, build.id, trouble.kind, looked)
        for shot, made, photo in photos:
            if index in shot.troubles:
                mark = _mark_of(trouble, shot, made)
                if mark is not None:
                    at = max(looked, clock.taken(shot) + timedelta(minutes=10))
                    add_mark(session, photo, *mark, at=self._by_now(at), finding_number=finding.id)
        if trouble.note:
            save_note(session, finding.id, trouble.note)
        self._ask_why(session, finding, trouble, clock)
        if trouble.fix:
            fix = record_fix(
                session,
                finding.id,
                trouble.fix,
                minutes=trouble.fix_min,
                at=self._by_now(clock.mended()),
                fix_key=trouble.fix_key,
            )
            if trouble.outcome is not Outcome.OPEN:
                held = trouble.outcome in (Outcome.REWORK, Outcome.REPAIR)
                result = FixResult.HELD if held else FixResult.FAILED
                look_again(session, finding.id, fix.id, result, at=decided)
        if trouble.reason:
            decide(
                session,
                finding.id,
                trouble.outcome,
                reason=trouble.reason,
                at=decided,
            )
        if trouble.learnt:
            lesson = write_lesson(session, finding.id, trouble.learnt.words, at=decided)
            part = next(key for key, number in self._parts.items() if number == build.part_id)
            self._learnt[trouble.learnt.label] = (lesson.id, part, trouble.learnt)

    def _ask_why(self, session: Session, finding: Finding, trouble: Trouble, clock: Clock) -> None:
        at = self._by_now(clock.out(_CAUSE_H))
        for cause, seen in trouble.ruled_out:
            judge_cause(session, finding.id, cause, False, seen=seen, at=at)
        if trouble.cause:
            judge_cause(session, finding.id, trouble.cause, True, seen=trouble.seen, at=at)


def trial_plan(session: Session, part_id: int, story: TrialStory) -> TrialPlan:
    """The plan of a trial as the form would keep it, with what its number rests on."""
    known = known_spread(session, part_id, TrialResult.VOIDS, story.fact)
    sizing = size_trial(
        TrialResult.VOIDS,
        story.smallest_difference,
        known.spread if known else guessed(story.spread),
        settings=len(story.settings),
        by_day=story.by_day,
    )
    return TrialPlan(
        part_id=part_id,
        question=story.question,
        fact=story.fact,
        settings=story.settings,
        result=TrialResult.VOIDS,
        smallest_difference=story.smallest_difference,
        per_setting=story.per_setting,
        by_day=story.by_day,
        planned_words=" ".join(filter(None, (known.words if known else "", sizing.words))),
    )


def _mark_of(trouble: Trouble, shot: Shot, made: Print) -> tuple[Shape, Outline] | None:
    """What a person would draw on the photo: a line, an outline, or after the repair a spot."""
    size = made.arrival.width_px, made.arrival.height_px
    if shot.stage is PhotoStage.REPAIRED:
        # The patch is larger than the defect was: only its place is marked.
        return Shape.POINT, (_inside(made.spot, size),)
    drawn: list[DrawnDefect] = [d for d in made.drawn if d.kind == trouble.kind]
    if not drawn:
        return None
    outline = tuple(_inside(point, size) for point in drawn[-1].outline_px)
    if trouble.kind == "bridging":
        first, second, third, fourth = outline
        return Shape.LINE, (_middle(first, fourth), _middle(second, third))
    return Shape.OUTLINE, _fewer(outline)


def _middle(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _inside(point: tuple[float, float], size: tuple[int, int]) -> tuple[float, float]:
    return min(max(point[0], 1.0), size[0] - 1.0), min(max(point[1], 1.0), size[1] - 1.0)


def _fewer(outline: Outline) -> Outline:
    """As many corners as a person has the patience to tap."""
    step = max(1, math.ceil(len(outline) / _MOST_CORNERS))
    return tuple((round(x, 1), round(y, 1)) for x, y in outline[::step])
