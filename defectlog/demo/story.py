"""Fourteen months of Heron Slip: forty-three builds, in the order they were laid up."""

from defectlog.demo.bagged import BAGGED_BUILDS
from defectlog.demo.infused import INFUSED_BUILDS
from defectlog.demo.plot import BuildPlan

WORKSHOP = "Heron Slip"
BUILDS: tuple[BuildPlan, ...] = BAGGED_BUILDS + INFUSED_BUILDS
