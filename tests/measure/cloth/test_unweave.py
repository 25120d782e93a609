"""Cloth of light and dark tows, taken out of a surface: what is left is void."""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure import measure_voids
from defectlog.measure.arrays.light import ONE, as_ratio, halved
from defectlog.measure.candidates.sides import tails_of
from defectlog.measure.cloth import surface as surfaces
from defectlog.measure.cloth.following import Step, steps_along
from defectlog.measure.cloth.likeness import likeness
from defectlog.measure.cloth.same_tow import cloth_at, compared_every, places_along
from defectlog.measure.cloth.small_cloth import SmallCloth
from defectlog.measure.cloth.squares import at_half, between, in_middles, middles, to_the_edge
from defectlog.measure.cloth.surface import prepare, recurs_of
from defectlog.measure.cloth.tows import tow_repeats
from defectlog.measure.cloth.unweave import unwoven
from defectlog.measure.explain import explain
from defectlog.measure.lengths.scale import given_scale
from tests.pictures import Surface, render

CARBON = Surface(size_mm=(60, 45), light=0.07, noise=0.003, two_tone=0.3, weave=0.2)


def prepared(grey, px_per_mm=12.0):
    return prepare(grey, np.ones(grey.shape, dtype=bool), px_per_mm)


def bare_of(surface, look="dark"):
    """The surface without its weave, for voids of a look; None where it is left as it is."""
    weave = unwoven(surface, tails_of(surface, look))
    return None if weave is None else weave.bare(look)[look]


def plain_weave(shape, pitch, turn_deg, bend_px=0.0):
    """Light and dark tows in turn, with a dark gap round each; and the places across the tows.

    Places are in pitches. The tows bend by so many pixels, as a sine over 300 of them.
    """
    y, x = np.indices(shape, dtype=np.float64)
    turn = math.radians(turn_deg)
    u = math.cos(turn) * x - math.sin(turn) * y + bend_px * np.sin(2 * np.pi * y / 300)
    v = math.sin(turn) * x + math.cos(turn) * y + bend_px * np.sin(2 * np.pi * x / 300)
    u, v = u / pitch, v / pitch
    is_warp = (np.floor(u) + np.floor(v)) % 2 < 1
    across = np.where(is_warp, u, v) % 1
    light = np.where(is_warp, 1.5, 0.6) * np.where(np.abs(across - 0.5) > 0.45, 0.5, 1.0)
    return np.rint(ONE * light).astype(np.uint16), u, v


def small(light: np.ndarray) -> SmallCloth:
    return SmallCloth.of(light, np.ones(light.shape, bool), 20.0 * math.sqrt(2))


def led_to(step: Step, rows: slice, columns: int) -> list[np.ndarray]:
    """The rows and columns that a step leads to, in whole pixels."""
    return [np.rint(places).astype(int) for places in step.over(rows, columns)]


@pytest.mark.parametrize("turn_deg", [0, 20])
def test_the_way_along_the_tows_follows_them_where_they_bend(turn_deg):
    light, u, v = plain_weave((420, 560), 20.0, turn_deg, bend_px=3.0)
    turn = math.radians(turn_deg)
    # Along the warp u stays and v grows, by two pitches until the weave comes up again.
    way = 40.0 * np.array([math.cos(turn), math.sin(turn)])

    there, _ = steps_along(small(light), way, (1,), cell_px=16)

    row, column = (at[:, 100:460] for at in led_to(there, slice(100, 320), 560))
    from_v, from_u = v[100:320, 100:460], u[100:320, 100:460]
    # Rounded to whole pixels, a twentieth of a pitch: within two of them nearly everywhere.
    assert np.quantile(np.abs(u[row, column] - from_u), 0.95) < 0.1
    assert np.quantile(np.abs(v[row, column] - from_v - 2), 0.95) < 0.1


@pytest.mark.parametrize(("every", "cell_px"), [(3, 15), (5, 15), (4, 16), (6, 18)])
def test_the_middles_of_squares_are_led_to_where_all_pixels_are(every, cell_px):
    light, _, _ = plain_weave((420, 560), 20.0, 0, bend_px=3.0)
    step, _ = steps_along(small(light), np.array([40.0, 0.0]), (1,), cell_px=cell_px)

    whole = step.over(slice(120, 320), 560)
    few = step.over(slice(120, 320), 560, every=every)

    for of_few, places in zip(few, whole, strict=True):
        # Of squares whose middle is between pixels, the one before it.
        each = in_middles(places, every)
        assert of_few == pytest.approx(each, abs=0.1)


def test_squares_have_places_between_pixels_as_well():
    light, _, _ = plain_weave((420, 560), 20.0, 0, bend_px=3.0)
    step, _ = steps_along(small(light), np.array([40.0, 0.0]), (1,), cell_px=6)

    whole = step.over(slice(120, 320), 560)
    few = step.over(slice(120, 320), 560, every=2)

    for of_few, places in zip(few, whole, strict=True):
        each = places.reshape(100, 2, 280, 2).mean(axis=(1, 3))
        assert of_few == pytest.approx(each, abs=0.1)


def test_single_places_are_led_to_where_all_are():
    light, _, _ = plain_weave((420, 560), 20.0, 0, bend_px=3.0)
    step, _ = steps_along(small(light), np.array([40.0, 0.0]), (1,), cell_px=6)
    row, column = np.indices((2, 30)) * np.array([[[150]], [[17]]]) + 9

    whole = step.over(slice(0, 420), 560)

    for places, alone in zip(whole, step.at(row, column), strict=True):
        assert alone == pytest.approx(places[row, column], abs=0.1)


@pytest.mark.parametrize("every", [2, 3, 6])
@pytest.mark.parametrize("shape", [(420, 560), (421, 563)])
def test_cloth_is_as_light_as_its_own_tow(shape, every):
    light, _, _ = plain_weave(shape, 20.0, 0)
    light = cv2.GaussianBlur(light, (0, 0), 1.3)  # of a lens, and of smoothing
    surface = replace(
        prepared(render(CARBON).grey), smooth=light, inspected=light > 0, inspected_px=light.size
    )
    cloth = small(light)
    places = tuple(
        steps_along(cloth, np.array(way), (1, 2, 3), cell_px=18) for way in ((40.0, 0), (0, 40.0))
    )

    told = cloth_at(surface, light, places, ("dark", "bright"), every=every)

    own = middles(light, every)
    inner = slice(60 // every, -60 // every), slice(120 // every, -120 // every)
    assert np.array_equal(told["dark"].own, own)
    rest = np.log(told["dark"].nearer / own)[inner]
    assert np.quantile(np.abs(rest), 0.9) < 0.05  # of tows that differ by 2.5 times
    rest = np.log(told["bright"].nearer * (own / ONE**2))[inner]
    assert np.quantile(np.abs(rest), 0.9) < 0.05


@pytest.mark.parametrize("every", [2, 3])
@pytest.mark.parametrize("shape", [(30, 40), (31, 40), (32, 41)])
def test_the_middles_of_squares_are_as_light_as_a_slope_is_there(shape, every):
    row, column = np.indices(shape)
    light = (1000 + 12 * row + 30 * column).astype(np.uint16)

    told = middles(light, every)

    # A square with less than its middle within the picture is none.
    assert told.shape == tuple(math.ceil((side - (every - 1) // 2) / every) for side in shape)
    whole = told[: shape[0] // every, : shape[1] // every].astype(float)
    row, column = (every * at + (every - 1) / 2 for at in np.indices(whole.shape))
    assert whole == pytest.approx(1000 + 12 * row + 30 * column, abs=0.5)


@pytest.mark.parametrize("every", [2, 3])
@pytest.mark.parametrize("shape", [(90, 120), (91, 122), (92, 121)])
def test_squares_say_what_a_smooth_picture_is_like_between_them_and_at_half_its_size(shape, every):
    row, column = np.indices(shape)
    light = (4000 + 900 * np.sin(row / 9) * np.cos(column / 11)).astype(np.uint16)

    squares = middles(light, every)
    told = np.vstack(
        [between(to_the_edge(squares), every, slice(0, 32), shape[1])]
        + [between(to_the_edge(squares), every, slice(32, shape[0]), shape[1])]
    )

    assert told.shape == shape
    inner = slice(6, -6), slice(6, -6)
    # It goes up and down by 100 a pixel: a quarter of one off, and it would show.
    assert told[inner] == pytest.approx(light[inner].astype(float), abs=25)
    half = at_half(squares, every, shape)
    assert half.shape == halved(light).shape
    inner = slice(3, -3), slice(3, -3)
    assert half[inner] == pytest.approx(halved(light)[inner].astype(float), abs=25)


def test_what_glare_does_to_the_light_is_no_weave_that_is_left():
    # Swells 12 mm across, of a half more light, and of a third less between them.
    surface = prepared(render(CARBON).grey)
    y, x = np.indices(surface.smooth.shape) / surface.px_per_mm
    swell = np.exp(0.4 * np.sin(2 * np.pi * x / 24) * np.sin(2 * np.pi * y / 24))
    bent = np.rint(surface.smooth * swell).astype(np.uint16)
    repeats = tow_repeats(surface)
    every = compared_every(surface, repeats.pitch)
    places = places_along(surface, repeats, every=every)

    def left(light: np.ndarray, region_px: int) -> float:
        lit = replace(surface, smooth=light, region_px=region_px)
        cloths = cloth_at(lit, light, places, ["dark"], every=every)
        return likeness(lit, cloths, pitch=repeats.pitch, every=every)["dark"].left

    swung = left(bent, bent.size)
    assert swung > 3 * left(surface.smooth, bent.size)
    # Where a tenth of the region is glare, the swells are its own.
    assert left(bent, round(bent.size / 0.9)) < 0.5 * swung


def test_going_back_undoes_going_on():
    light, _, _ = plain_weave((420, 560), 20.0, 0, bend_px=3.0)
    way = np.array([40.0, 0.0])

    on, back = steps_along(small(light), way, (1,), cell_px=16)

    row, column = (at[120:280, 120:440] for at in led_to(on, slice(0, 420), 560))
    home_y, home_x = (at[row, column] for at in led_to(back, slice(0, 420), 560))
    assert np.abs(home_y - np.indices((420, 560))[0][120:280, 120:440]).max() < 1.5
    assert np.abs(home_x - np.indices((420, 560))[1][120:280, 120:440]).max() < 1.5


@pytest.mark.parametrize("turn_deg", [0, 20, 45])
def test_repeats_lie_along_the_tows_two_pitches_of_plain_weave_on(turn_deg):
    light, _, _ = plain_weave((640, 640), 24.0, turn_deg)
    surface = prepared(render(CARBON).grey)
    recurs = recurs_of(light, light > 0, surface.px_per_mm)

    repeats = tow_repeats(replace(surface, ratio=light, inspected=light > 0, recurs=recurs))

    for way in repeats.ways:
        assert math.hypot(*way) == pytest.approx(48.0, abs=1.0)
        off = (math.degrees(math.atan2(way[0], way[1])) + turn_deg) % 90
        assert min(off, 90 - off) < 2
    assert repeats.pitch == pytest.approx(24.0, abs=0.5)


def test_what_is_left_of_sound_cloth_hardly_swings():
    surface = prepared(render(CARBON).grey)

    bare = bare_of(surface)

    before, after = (as_ratio(one.smooth) for one in (surface, bare))
    low, high = np.quantile(before, (0.1, 0.9))
    assert high / low > 1.8
    low, high = np.quantile(after, (0.1, 0.9))
    assert high / low < 1.25


def test_voids_stand_out_once_the_weave_is_taken_out():
    # The darkest tows lack 0.45 of the light, these voids 0.5 of what is about them.
    picture = render(replace(CARBON, fraction=0.03, contrast=0.5))
    surface = prepared(picture.grey)

    bare = bare_of(surface)

    void = picture.cover > 0.9
    sound = picture.cover == 0
    left, before = as_ratio(bare.smooth), as_ratio(surface.smooth)
    assert np.quantile(before[void], 0.8) > np.quantile(before[sound], 0.05)
    assert np.quantile(left[void], 0.8) < np.quantile(left[sound], 0.005)


def test_what_is_no_cloth_keeps_its_pattern():
    y, x = np.indices((480, 640))
    rng = np.random.default_rng(3)
    blotches = np.kron(rng.uniform(40, 200, (24, 32)), np.ones((20, 20)))
    grey = np.clip(blotches + rng.normal(0, 3, y.shape), 0, 255).astype(np.uint8)
    surface = prepared(grey)

    assert bare_of(surface) is None


def test_even_cloth_is_left_as_it_is():
    surface = prepared(render(replace(CARBON, two_tone=0.0)).grey)

    assert bare_of(surface) is None


def test_dense_voids_on_even_cloth_are_no_floats_of_a_satin():
    dense = Surface(size_mm=(60, 45), fraction=0.15, contrast=0.6, seed=4)

    assert bare_of(prepared(render(dense).grey)) is None


def test_the_same_surface_gives_the_same_to_the_bit():
    surface = prepared(render(replace(CARBON, fraction=0.02, contrast=0.6)).grey)

    first, second = (bare_of(surface) for _ in range(2))

    assert np.array_equal(first.smooth, second.smooth)
    assert np.array_equal(first.expected, second.expected)


def beside_glare(spots: int, cloth: Surface = CARBON) -> tuple[np.ndarray, np.ndarray]:
    """Sound two-tone cloth with a glint, and as many bright spots in a row as far from it."""
    grey = render(replace(cloth, glare=3.0, seed=2)).grey.copy()
    cover = np.zeros(grey.shape, np.uint8)
    for k in range(spots):
        cv2.circle(cover, (30 + 35 * (k % 3), 430 + 35 * (k // 3)), 9, 1, -1)
    lit = np.where(cover, np.minimum(1.9 * grey, 240), grey)
    return cv2.GaussianBlur(np.rint(lit).astype(np.uint8), (0, 0), 0.6), cover > 0


def test_what_is_lost_for_one_look_beside_glare_is_inspected_for_the_other():
    # Nine bright discs 1.5 mm across: cloth is not followed there as far as dark voids go.
    grey, spots = beside_glare(9)
    surface = prepared(grey)

    weave = unwoven(surface, tails_of(surface, "auto"))
    found = measure_voids(grey, px_per_mm=12.0)

    assert not weave.clear.of("dark").inspected[spots].any()
    assert weave.clear.of("bright").inspected[spots].all()
    assert found.look == "bright"
    assert np.array_equal(found.inspected_mask, weave.clear.of("bright").inspected)
    assert found.count == 9
    # On dark tows they are hardly lighter than light ones: all read a tenth too small.
    assert found.void_fraction == pytest.approx(spots[found.inspected_mask].mean(), rel=0.12)


def test_where_none_is_found_beside_glare_what_is_inspected_was_so_for_either_look():
    grey, _ = beside_glare(0)
    surface = prepared(grey)

    weave = unwoven(surface, tails_of(surface, "auto"))
    found = measure_voids(grey, px_per_mm=12.0)

    assert found.is_sound
    assert np.array_equal(
        found.inspected_mask, weave.clear.of("dark").inspected & weave.clear.of("bright").inspected
    )


def test_few_squares_of_a_large_surface_say_what_glare_hides_and_all_what_is_void(monkeypatch):
    monkeypatch.setattr(surfaces, "LARGE_PX", 1)
    grey, spots = beside_glare(9, replace(CARBON, size_mm=(90, 70)))
    surface = prepared(grey)

    weave = unwoven(surface, tails_of(surface, "auto"))
    found = measure_voids(grey, px_per_mm=12.0)

    assert weave.is_few
    assert weave.bare("bright")["bright"].inspected is weave.clear.of("bright").inspected
    assert weave.anew("bright")["bright"].every < weave.told["bright"].every
    assert found.look == "bright"
    assert found.count == 9
    assert found.void_fraction == pytest.approx(spots[found.inspected_mask].mean(), rel=0.12)


def test_where_few_squares_of_it_are_too_few_all_are_told(monkeypatch):
    grey, _ = beside_glare(0)
    surface = prepared(grey)
    monkeypatch.setattr(surfaces, "LARGE_PX", 1)

    weave = unwoven(surface, tails_of(surface, "auto"))

    assert not weave.is_few
    assert set(weave.told) == {"dark", "bright"}


@pytest.mark.parametrize("look", ["dark", "bright"])
def test_cloth_is_the_same_when_it_is_asked_for_one_look_alone(look):
    grey, _ = beside_glare(9)
    surface = prepared(grey)
    tails = tails_of(surface, "auto")

    weave = unwoven(surface, tails)
    alone = weave.bare(look)

    assert list(alone) == [look]
    assert np.array_equal(alone[look].smooth, weave.bare("dark", "bright")[look].smooth)


def matt(share: float, seed: int) -> tuple[np.ndarray, float]:
    """Twill of about one tone, with discs of half as much light again, and the area of these."""
    rng = np.random.default_rng(seed)
    high, wide, pitch = 900, 1200, 15
    y, x = np.indices((high, wide))
    row, column = y // pitch, x // pitch
    is_warp = (row - column) % 4 < 2
    warp, weft = (rng.normal(0, 0.03, 200) for _ in range(2))
    across = np.where(is_warp, x, y) % pitch / pitch
    tone = np.where(is_warp, 0.15 + warp[column], -0.15 + weft[row])
    light = 0.12 * np.exp(tone) * np.where(np.abs(across - 0.5) > 0.44, 0.65, 1.0)
    cover = np.zeros((2 * high, 2 * wide), np.float32)
    while cover.mean() < share:
        at = (int(rng.integers(2 * wide)), int(rng.integers(2 * high)))
        cv2.circle(cover, at, int(rng.integers(5, 14)), 1.0, -1)
    cover = cv2.resize(cover, (wide, high), interpolation=cv2.INTER_AREA)
    light = cv2.GaussianBlur(light * (1 + 0.5 * cover), (0, 0), 0.8)
    light = light + rng.normal(0, 0.002, light.shape)
    grey = np.rint(255 * np.clip(light, 0, 1) ** (1 / 2.2)).astype(np.uint8)
    return grey, float(cover.mean())


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("share", [0.02, 0.04])
def test_bright_voids_on_dark_tows_are_no_brighter_than_light_ones_and_count(share, seed):
    grey, true = matt(share, seed)

    found = measure_voids(grey, px_per_mm=10.0)

    assert found.void_fraction == pytest.approx(true, rel=0.06)
    assert found.void_fraction_low <= true <= found.void_fraction_high
    assert found.settings["fainter"]


def test_the_steps_of_such_a_figure_show_the_cloth_without_its_weave():
    grey, _ = matt(0.02, 1)
    found = measure_voids(grey, px_per_mm=10.0)

    made = explain(
        grey,
        region=None,
        scale=given_scale(10.0),
        look=found.look,
        threshold=found.threshold,
        fainter="fainter" in found.settings,
    )

    assert made.is_bare
    assert made.beyond.mean() == pytest.approx(found.void_fraction, rel=0.2)


def test_cloth_of_about_one_tone_holds_none_by_itself():
    grey, _ = matt(0.0, 1)

    assert measure_voids(grey, px_per_mm=10.0).void_fraction == 0
