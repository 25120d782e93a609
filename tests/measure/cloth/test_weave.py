"""The repeats of a weave, on drawn ones."""

import numpy as np

from defectlog.measure.cloth.weave import weave_repeats


def test_the_repeat_of_a_lattice_is_found():
    y, x = np.mgrid[:800, :800]
    cloth = 1 + 0.1 * np.cos(2 * np.pi * y / 48) + 0.1 * np.cos(2 * np.pi * x / 40)

    found = weave_repeats(cloth.astype(np.float32), np.ones(cloth.shape, bool), px_per_mm=8.0)

    assert any(abs(dy - 48) <= 1 and abs(dx) <= 1 for dy, dx in found)
    assert any(abs(dy) <= 1 and abs(dx - 40) <= 1 for dy, dx in found)


def test_noise_has_no_repeat():
    noise = 1 + 0.1 * np.random.default_rng(1).standard_normal((800, 800), dtype=np.float32)

    assert weave_repeats(noise, np.ones(noise.shape, bool), px_per_mm=8.0) == []


def test_the_repeat_is_looked_for_beside_what_hides_the_middle():
    y, x = np.mgrid[:1200, :1600]
    cloth = 1 + 0.1 * np.cos(2 * np.pi * y / 48) + 0.1 * np.cos(2 * np.pi * x / 40)
    inspected = np.ones(cloth.shape, bool)
    inspected[200:1000, 300:1150] = False

    found = weave_repeats(cloth.astype(np.float32), inspected, px_per_mm=8.0)

    assert any(abs(dy - 48) <= 1 and abs(dx) <= 1 for dy, dx in found)
    assert any(abs(dy) <= 1 and abs(dx - 40) <= 1 for dy, dx in found)
