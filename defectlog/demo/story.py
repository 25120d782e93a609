"""Fourteen months of Heron Slip: fifty-three builds, in the order they were laid up."""

from defectlog.demo.bagged import BAGGED_BUILDS
from defectlog.demo.infused import INFUSED_BUILDS
from defectlog.demo.plot import BuildPlan
from defectlog.demo.trials import PANELS

WORKSHOP = "Heron Slip"
BUILDS: tuple[BuildPlan, ...] = tuple(
    sorted(BAGGED_BUILDS + INFUSED_BUILDS + PANELS, key=lambda plan: -plan.days_ago)
)
