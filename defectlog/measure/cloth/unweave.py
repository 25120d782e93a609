"""A surface without its own weave, on which voids show as on an even one."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from defectlog.measure.arrays.halves import by_pieces, for_each
from defectlog.measure.arrays.light import (
    ONE,
    GreyImage,
    RatioImage,
    from_cells,
    inverse_of,
    log_of,
    to_cells,
)
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.cloth.following import Places
from defectlog.measure.cloth.glare import VEIL_MM, with_flanks
from defectlog.measure.cloth.likeness import Likeness, likeness, middle_and_spread
from defectlog.measure.cloth.same_tow import Cloth, cloth_at, compared_every, places_along
from defectlog.measure.cloth.squares import at_half, between, to_the_edge
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.tows import TowRepeats, tow_repeats

# Where light tows go so far beyond the middle, in log units of light, and all of it lies so far
# from it, dark voids may be no darker than tows and gaps; and where dark tows do, bright voids no
# brighter.
MAY_HIDE_DARK, MAY_HIDE_BRIGHT, SWING = 0.24, 0.3, 0.2
# Voids that are fainter than that may be hidden by cloth that swings less. Edges of its tows, met
# astray, stand out by less as well: by so many times what it swings.
FAINT_SWING, EDGES = 0.12, 1.25
# Nine tenths of half of a normal spread lie within so many deviations.
WITHIN = 1.645
# Cloth that was told right leaves no more than this of its swing; and seldom more than that of
# its light, if what repeats is not half of a repeat.
LEFT, UNCLEAR = 0.5, 0.15
SAMPLED = 9  # of so many pixels one along a side, for how far the cloth swings
# Where too few places say where a gap is, or they were met only nearly, it may be anywhere within
# so much of a pitch.
ASTRAY = 0.12
STRIP_PX = 128


def unwoven(
    surface: Surface, tails: dict[Look, Tail], *, only: Look | None = None, faint: bool = False
) -> dict[Look, Surface]:
    """Take the weave out of a surface, for voids of either look that it may hide.

    Parameters
    ----------
    surface : evenly lit
    tails : of its light
    only : the look it is wanted for, if not for all
    faint : whether voids are looked for that are fainter than the tones of cloth

    Returns
    -------
    dict of Look, Surface
        For a look that the weave does not hide, or where cloth can't be told, none. ``smooth`` is
        the light to that of the cloth, ``expected`` the cloth's own at half the size and ``least``
        what it is compared with, a quarter of that. For bright voids all its light is inverse: they
        are dark on it.
    """
    hidden = [look for look in tails if faint or _may_hide(tails, look)]
    least = FAINT_SWING if faint else SWING
    if not hidden or only not in (None, *hidden):
        return {}
    some = (slice(None, None, SAMPLED),) * 2
    swing = middle_and_spread(log_of(surface.smooth[some][surface.inspected[some]]))[1]
    if not faint and swing < SWING and "dark" in hidden and _hides_in_floats(tails["dark"]):
        hidden, swing = ["dark"], tails["dark"].towards / WITHIN
    repeats = tow_repeats(surface) if swing >= least else None
    if repeats is None:
        return {}
    told = _told(surface, repeats, hidden, swing)
    if told is None:
        return {}
    if swing < SWING:
        surface = replace(surface, astray=EDGES * swing)
    wanted = [look for look in told.likes if only in (None, look)]
    if not surface.is_glared:
        return _bare(surface, told, wanted, repeats.pitch)
    bare = {}
    for look in wanted:
        # Gaps that are lit up by glare do not say what others are like: cloth is told anew, if
        # enough of it is left.
        clear = _clear_of_glare(surface, told.likes, look)
        anew = _told(clear, repeats, [look], swing)
        bare |= _bare(clear, anew or told, [look], repeats.pitch)
    return bare


def _clear_of_glare(surface: Surface, likes: dict[Look, Likeness], look: Look) -> Surface:
    """What of a surface with glare can be inspected for voids of a look.

    On the flank of glare voids show less than the cloth does: it hides them there as well. What
    is lost for the other look alone may be voids of this one, unless it lies along glare.
    """
    like = likes[look]
    lost = like.lost
    if surface.glare is not None:
        glare = np.pad(to_cells(surface.glare.view(np.uint8), like.cell_px), (0, 1))
        glare = glare[: lost.shape[0], : lost.shape[1]] > 0
        either = np.logical_or.reduce([one.lost for one in likes.values()])
        steps = round(VEIL_MM * surface.px_per_mm / like.cell_px)
        lost = lost | (either & with_flanks(glare, either, steps=steps))
    lost = from_cells(lost, like.cell_px, surface.smooth.shape, smooth=False)
    return surface.within(lost == 0)


def _inspected_light(surface: Surface) -> RatioImage:
    """Light where it is inspected, 0 where not."""
    if surface.is_whole:
        return surface.smooth
    return cv2.copyTo(surface.smooth, surface.inspected.view(np.uint8))


def _may_hide(tails: dict[Look, Tail], look: Look) -> bool:
    """Whether voids of a look may be no further from the middle than tows and gaps are."""
    if look == "dark":
        return tails[look].reach >= MAY_HIDE_DARK or _hides_in_floats(tails[look])
    # Where dark voids alone are clear, what is bright is the cloth: by itself it has less than half
    # of the kink that is asked for bright ones.
    is_dark = not tails[look].may_have_voids and "dark" in tails and tails["dark"].has_voids
    return tails[look].reach >= MAY_HIDE_BRIGHT and not is_dark


def _hides_in_floats(dark: Tail) -> bool:
    """Whether dark voids may be no darker than floats: glass swings by 0.1 beside dense voids."""
    return dark.may_be_floats and dark.swing >= FAINT_SWING


@dataclass(frozen=True, slots=True, eq=False)
class _Told:
    """Cloth as its own tows tell it, in squares of ``every`` pixels, and how far they do."""

    places: Places
    every: int
    cloths: dict[Look, Cloth]
    likes: dict[Look, Likeness]

    @property
    def left(self) -> float:
        """The most that is left of it for any look."""
        return max((like.left for like in self.likes.values()), default=np.inf)


def _told(surface: Surface, repeats: TowRepeats, looks: list[Look], swing: float) -> _Told | None:
    """What the cloth is like, for those of some looks that it is told for."""
    best, light = None, _inspected_light(surface)
    every = compared_every(surface, repeats.pitch)
    for one in (repeats, repeats.doubled()):
        # Warp and weft may look so alike that one was taken for the other.
        if best is not None and best.left <= UNCLEAR:
            break
        places = places_along(surface, one, every=every)
        if places is None:
            continue
        cloths = cloth_at(surface, light, places, looks, every=every)
        likes = likeness(surface, cloths, pitch=repeats.pitch, every=every)
        tried = _Told(places, every, cloths, likes)
        if best is None or tried.left < best.left:
            best = tried
    if best is None:
        return None
    likes = {look: like for look, like in best.likes.items() if like.left <= LEFT * swing}
    return replace(best, likes=likes) if likes else None


def _bare(surface: Surface, told: _Told, looks: list[Look], pitch: float) -> dict[Look, Surface]:
    """The surface without its weave, for some looks."""
    shape = surface.smooth.shape

    def lit(look: Look) -> tuple[Cloth, RatioImage]:
        cloth = _lit(told.cloths[look], told.likes[look], told.every)
        return cloth, at_half(cloth.cloth, told.every, shape)

    bare = {}
    for look, (cloth, half) in for_each(lit, looks).items():
        smooth, least = _to_cloth(surface, cloth, told.likes[look], look, told.every, pitch)
        bare[look] = replace(
            surface,
            smooth=smooth,
            expected=half,
            least=least,
            places=told.places,
            is_inverse=look == "bright",
        )
    return bare


def _to_cloth(
    surface: Surface, cloth: Cloth, like: Likeness, look: Look, every: int, pitch: float
) -> tuple[RatioImage, RatioImage]:
    """Light to that of cloth told in squares, and the least of that near, of 4 x 4 pixels one."""
    shape = surface.smooth.shape
    known, nearer = to_the_edge(cloth.cloth), to_the_edge(cloth.nearer)
    astray = from_cells(like.astray, like.cell_px // every, cloth.own.shape, smooth=False)
    astray = to_the_edge(astray if cloth.few is None else astray | cloth.few)
    reach = max(1, round(ASTRAY * pitch))
    smooth = np.empty(shape, np.uint16)
    least = np.empty(tuple(-(-side // 4) for side in shape), np.uint16)

    def spread(strips: list[slice]) -> None:
        for own in strips:
            about = slice(max(own.start - reach, 0), min(own.stop + reach, shape[0]))
            inner = slice(own.start - about.start, own.stop - about.start)
            near = between(known, every, about, shape[1])
            near = _least_near(near, _rows_of(astray, every, about, shape[1]), reach)[inner]
            light = surface.smooth[own]
            if look == "bright":
                light = inverse_of(light)
            lost = _rows_of(like.lost, like.cell_px, own, shape[1])
            if lost is not None:
                darker = cv2.min(light, near)
                cv2.copyTo(cv2.max(darker, 1, dst=darker), lost, dst=near)
            smooth[own] = _to_light(light, between(nearer, every, own, shape[1]), near)
            few = near[::4, ::4]
            if lost is not None:
                few[lost[::4, ::4] > 0] = 0
            least[own.start // 4 : -(-own.stop // 4)] = few

    # Strip by strip, for what is worked out on the way would take the memory of many pictures.
    by_pieces(spread, shape[0], piece=STRIP_PX)
    return smooth, least


def _lit(cloth: Cloth, like: Likeness, every: int) -> Cloth:
    """Cloth in the light of its folds."""
    shade = from_cells(like.shade, like.every // every, cloth.own.shape, smooth=True)
    shade = np.ascontiguousarray(shade)
    return replace(
        cloth,
        cloth=cv2.multiply(cloth.cloth, shade, scale=1 / ONE),
        nearer=cv2.multiply(cloth.nearer, shade, scale=1 / ONE),
    )


def _least_near(cloth: RatioImage, astray: GreyImage | None, reach: int) -> RatioImage:
    """The least light of cloth beside each pixel; within reach, where it is known astray."""
    near = cv2.erode(cloth, np.ones((3, 3), np.uint8))
    if astray is not None:
        _lessen(near, cloth, astray, reach)
    return near


def _lessen(near: RatioImage, cloth: RatioImage, astray: GreyImage, reach: int) -> None:
    """Where the cloth is known astray, make it the least within reach, in place."""
    x, y, width, height = cv2.boundingRect(astray)
    within = slice(y, y + height), slice(x, x + width)
    top, left = max(y - reach, 0), max(x - reach, 0)
    least = cv2.erode(
        cloth[top : y + height + reach, left : x + width + reach],
        np.ones((2 * reach + 1,) * 2, np.uint8),
    )[y - top :, x - left :][:height, :width]
    cv2.copyTo(least, astray[within], dst=near[within])


def _rows_of(cells: GreyImage, cell_px: int, rows: slice, columns: int) -> GreyImage | None:
    """Some rows of what cells say of a picture, 0 or 1; None if that is 0 all over."""
    near = cells[rows.start // cell_px : -(-rows.stop // cell_px)]
    if not near.any():
        return None
    first = rows.start % cell_px
    shape = first + rows.stop - rows.start, columns
    return from_cells(near, cell_px, shape, smooth=False)[first:]


def _to_light(own: RatioImage, nearer: RatioImage, near: RatioImage) -> RatioImage:
    """Light to that of the cloth, pixel by pixel.

    What is darker than all cloth near is told by that; what is not, by how far it is from the
    cloth there, either way: edges of tows that were met only nearly are no noise of the surface.
    """
    light, least = cv2.max(own, nearer), cv2.max(cv2.min(own, nearer), 1)
    is_darker = cv2.compare(own, near, cv2.CMP_LT)
    cv2.copyTo(own, is_darker, dst=light)
    cv2.copyTo(near, is_darker, dst=least)
    return cv2.divide(light, least, scale=ONE, dtype=cv2.CV_16U)
