"""Student's distribution against scipy and against its printed tables."""

import subprocess
import sys

import pytest
from scipy.stats import t as reference

from defectlog.measure.arrays.student import share_between, student_quantile


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 7, 24, 25, 100])
def test_the_factor_is_that_of_scipy(freedom):
    assert student_quantile(freedom) == pytest.approx(reference.ppf(0.975, freedom), rel=1e-9)


@pytest.mark.parametrize(
    ("fields", "printed"), [(5, 2.776), (10, 2.262), (16, 2.131), (25, 2.064), (40, 2.023)]
)
def test_the_factor_is_the_one_printed_for_fields(fields, printed):
    # NIST/SEMATECH e-Handbook 1.3.6.7.2, two-sided 95 %, one less than the fields.
    assert student_quantile(fields - 1) == pytest.approx(printed, abs=5e-4)


def test_no_freedom_is_refused():
    with pytest.raises(ValueError, match="degrees of freedom"):
        share_between(1.0, 0)


def test_measuring_waits_for_no_library_of_statistics():
    lines = "import sys, defectlog.cli, defectlog.bench.measure_files; print(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", lines], capture_output=True, text=True, check=True
    ).stdout.split()

    assert "cv2" in loaded
    assert not [name for name in loaded if name.split(".")[0] in ("scipy", "sqlalchemy", "flask")]
