"""What in a photo itself makes its void figure doubtful, in words."""

import math

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage, GreyImage, as_share
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.figures.focus import focus_of
from defectlog.measure.figures.rim import Rim
from defectlog.measure.outlines import judging
from defectlog.measure.outlines.judging import Turned
from defectlog.measure.patches.patches import Patch
from defectlog.units import figure, percent, plural, with_unit

# Grey values beyond which light is hardly told apart, and the share of surface that may be.
NEARLY_WHITE = 245
NEARLY_BLACK = 12
SATURATED_SHARE = 0.02
# Spots on the other side count if they stand out at least so much, against the chosen side.
OTHER_SIDE = 0.5
BLURRED_PX = 2.2
STRONG_SEAM = 0.04  # share of the voids' contrast; usual sharpening draws half of it
SWINGING = 0.2  # in log units of light
HARDLY_CLOTH = 0.6
# Two-tone carbon swings by three quarters of its light at most.
NO_CLOTH = 1.0
MORE_THAN_CLOTH = "more than any cloth by itself"
# Steps across the borders of 8 x 8 blocks over steps elsewhere: 1.5 at quality 90 of JPEG, more
# than 2.2 at 40 and less.
BLOCKY = 2.2
# Where lines and shadows were turned down that are so many times the area of the voids, and so
# much of the surface.
MOSTLY = 5.0
LINES_SHARE = 0.01
# From so much of the surface on, what its cloth may hide is worth a word.
MAY_BE_HIDDEN = 0.001
ROWS = 160


def of_picture(grey: GreyImage, inspected: BoolImage) -> list[str]:
    """Warnings that hang on the stored values alone.

    Parameters
    ----------
    grey : (M, N) uint8
    inspected : (M, N) bool
    """
    said = []
    values, held = (np.ascontiguousarray(one[::5, ::5]) for one in (grey, inspected))
    if held.any():
        white = np.count_nonzero((values >= NEARLY_WHITE) & held) / np.count_nonzero(held)
        black = np.count_nonzero((values <= NEARLY_BLACK) & held) / np.count_nonzero(held)
        if white > SATURATED_SHARE:
            said.append(
                f"{100 * white:.0f} % of the surface is nearly white: take it again with less "
                "light or a shorter exposure."
            )
        if black > SATURATED_SHARE:
            said.append(
                f"{100 * black:.0f} % of the surface is nearly black: take it again with more "
                "light, from the side."
            )
    if blockiness(grey) > BLOCKY:
        said.append(
            "The photo is heavily compressed (JPEG), which blurs faint voids and makes specks: "
            "use the file as the camera saved it, not one sent through a messenger."
        )
    return said


def blockiness(grey: GreyImage) -> float:
    """How much larger the steps at the borders of JPEG's blocks are than those between.

    About 1 without any; the quantisation tables of the file are not at hand.
    """
    if min(grey.shape) < 64:
        return 1.0
    rows, columns = grey.shape
    ratios = []
    for along, some in (
        (1, grey[:: max(1, rows // ROWS)]),
        (0, grey[:, :: max(1, columns // ROWS)]),
    ):
        lines = np.ascontiguousarray(some)
        pairs = (lines[:, 1:], lines[:, :-1]) if along else (lines[1:], lines[:-1])
        steps = cv2.min(cv2.absdiff(*pairs), 12)
        across = cv2.reduce(steps, 1 - along, cv2.REDUCE_SUM, dtype=cv2.CV_32S).ravel()
        means = across[: len(across) // 8 * 8].reshape(-1, 8).mean(axis=0) / steps.shape[1 - along]
        # Step k lies between pixels k and k + 1: the border of a block is at 7.
        ratios.append(float(means[7] / max(float(np.median(means[:7])), 1e-3)))
    return min(ratios)


def of_finding(
    judged: Tail,
    other: Tail | None,
    blur_px: float | None,
    *,
    found: bool,
    both: bool,
    shrink: int,
    outlined: bool,
) -> list[str]:
    """Warnings that hang on how clearly voids stood out.

    Parameters
    ----------
    judged : the side that voids were looked for on
    other : the other side, None if the look was asked for
    blur_px : of the picture as worked on, None where nothing could tell
    found : whether voids were found
    both : whether voids of the other side were counted with them
    shrink : pixels of the picture along one worked on
    outlined : whether a region was given
    """
    said = []
    swing = math.expm1(judged.reach)
    if swing > NO_CLOTH and not outlined:
        said.append(
            f"Light and dark differ by {100 * swing:.0f} % of the light, {MORE_THAN_CLOTH}: the "
            "bench or another part seems to be in view. Outline the part."
        )
    elif swing > HARDLY_CLOTH:
        said.append(
            f"Light and dark of the surface itself differ by {100 * swing:.0f} % of the light. On "
            "two-tone carbon that is usual. Voids and dry patches fainter than that can't be told "
            "from the weave there, nor every outline from a dark tow: look for them yourself, "
            "and take the interval for too narrow. Any other surface that does so is hardly a "
            "laminate."
        )
    elif judged.reach > SWINGING:
        said.append(
            f"The weave itself swings by {100 * swing:.0f} % of the light: dry "
            "patches fainter than that can't be told from it. Look for them yourself."
        )
    if found and blur_px is not None and blur_px > BLURRED_PX:
        said.append(
            f"The photo is blurred (edges spread over about {2 * blur_px * shrink:.0f} px): "
            "pinholes may be lost. Rest the phone, tap to focus and take it again."
        )
    if both:
        said.append(
            "Darker spots and brighter ones both stand out clearly, and both are counted: look at "
            "the picture, and measure again with one of the two if the others are glints or dust."
        )
    elif found and other is not None and is_on_both_sides(judged, other):
        said.append(
            "Both darker and brighter spots stand out from this surface: look at the picture and "
            "say which of them are voids."
        )
    elif found and judged.has_voids and not judged.is_clear:
        said.append(
            "Voids hardly stand out from this surface's own pattern: look whether the outlines "
            "are voids."
        )
    return said


def of_sharpening(seam: float) -> list[str]:
    """A warning of a seam that the camera drew beside voids, as a share of their contrast."""
    if seam < STRONG_SEAM:
        return []
    return [
        "The camera has sharpened this photo strongly, which draws a seam around every void: small "
        "pinholes may be told a tenth too wide or too narrow. Set its sharpening lower if you can, "
        "or take the photo from closer."
    ]


def of_faint(tails: dict[Look, Tail]) -> list[str]:
    """A warning, where no void was found, of those that would not have stood out.

    Parameters
    ----------
    tails : of the surface, to the sides that were looked on
    """
    faint = []
    if "dark" in tails:
        less = as_share(tails["dark"].careful, dark=True)
        faint.append(f"less than about {percent(less)} darker")
    if "bright" in tails:
        more = as_share(tails["bright"].careful, dark=False)
        faint.append(
            f"less than about {percent(more)} brighter"
            if more < 1
            else f"less than about {figure(1 + more, 2)} times as bright"
        )
    which = ", or ".join(faint)
    return [
        f"Voids, few or many, may go unseen here if, against the surface, they are {which}. The "
        "interval has no room for those: look for them yourself."
    ]


def is_on_both_sides(judged: Tail, other: Tail) -> bool:
    """Whether what stands out to the other side is as much of a population, nearly.

    Without the weave one stands out so much more that the two can't be compared.
    """
    incomparable = judged.bare and not other.bare
    return other.has_voids and (incomparable or other.kink > OTHER_SIDE * judged.kink)


def of_focus(grey: GreyImage, inspected: BoolImage) -> list[str]:
    """A warning where no void was found and the photo might not have shown one.

    Parameters
    ----------
    grey : (M, N) uint8
    inspected : (M, N) bool
    """
    said = {
        "blurred": "The photo seems to be blurred: nothing on the surface is sharp, and pinholes "
        "may be lost. Rest the phone, tap to focus and take it again.",
        "untold": "Nothing on this surface is fine enough to tell a sharp photo from a blurred "
        "one, in which pinholes would be lost: look whether the edge of the part or the scale "
        "card is sharp.",
    }
    focus = focus_of(grey, inspected)
    return [] if focus is None else [said[focus]]


def of_rim(rim: Rim | None) -> list[str]:
    """A warning where the region seems to reach over the rim of the part."""
    if rim is None:
        return []
    darker, others = ("darker", "bright") if rim.look == "dark" else ("brighter", "dark")
    return [
        f"Along the edge of the region {percent(rim.share, 1)} of the surface is far {darker} than "
        f"inside: if that is the rim of the part or the bench, draw the region inside of it. The "
        f"interval has room for all of it and for none, but {others} voids may be lost."
    ]


def of_turned(
    turned: tuple[Turned, ...], kept_px: float, inspected_px: int, *, shrink: int
) -> list[str]:
    """A warning where most of what stands out is no void, as on a wall or a folded bag.

    Parameters
    ----------
    turned : the candidates that were no voids, in worked pixels
    kept_px : area of the voids, in pixels of the picture
    inspected_px : of the surface
    shrink : pixels of the picture along one worked on
    """
    lines_px = shrink**2 * sum(
        float(one.area.sum()) for one in turned if one.why in (judging.SOFT, judging.THIN)
    )
    if kept_px == 0 or lines_px < MOSTLY * kept_px or lines_px < LINES_SHARE * inspected_px:
        return []
    return [
        f"Lines, folds or joints take {100 * lines_px / inspected_px:.0f} % of the surface, far "
        "more than the voids: is this a laminate, and are the outlines on it voids?"
    ]


def of_hidden(share: float) -> list[str]:
    """A warning where voids may lie among the dark tows of two-tone cloth, a share of it, 0-1."""
    if share == 0:
        return []
    return [
        f"Up to {percent(share)} of the surface is darker than dark tows usually are: voids, or "
        "the gaps between tows. Nothing is counted; look at the picture, and set the threshold "
        "by hand if these are voids."
    ]


def of_cloth_that_hides(share: float, look: Look | None) -> list[str]:
    """A warning where more voids may lie unseen on tows as dark as they are, a share of it, 0-1."""
    if share < MAY_BE_HIDDEN:
        return []
    shade = "bright" if look == "bright" else "dark"
    return [
        f"Some of the cloth is nearly as {shade} as these voids, or its tows could not be "
        "followed: voids there can't be told from it. There may be as many as elsewhere, "
        f"{percent(share)} of the surface. They are not counted, but the interval reaches so far: "
        "look for them yourself."
    ]


def of_patches(patches: tuple[Patch, ...], px_per_mm: float | None, surface: Surface) -> list[str]:
    """Warnings of what differs from the cloth around it as a whole.

    Parameters
    ----------
    patches : those that were counted and those that may be voids
    px_per_mm : of the picture as given, None without a scale
    surface : they lie on
    """
    said = []
    counted = [patch for patch in patches if patch.is_sure]
    if counted:
        said.append(
            f"{plural(len(counted), 'patch', 'patches')} {'are' if len(counted) > 1 else 'is'} "
            f"counted for differing from the cloth around as a whole, the largest "
            f"{_across(counted, px_per_mm, surface)} across: look whether it is dry cloth, and "
            "draw its outline if you need its size."
        )
    doubtful = [patch for patch in patches if not patch.is_sure]
    if doubtful:
        paler = "paler" if doubtful[0].tone > 0 else "darker"
        said.append(
            f"{plural(len(doubtful), 'patch', 'patches')} may be dry cloth, the largest "
            f"{_across(doubtful, px_per_mm, surface)} across and {paler} than the cloth around, "
            "no more than a shadow may be: not counted, but within the upper limit. Look at it."
        )
    return said


def _across(patches: list[Patch], px_per_mm: float | None, surface: Surface) -> str:
    worked_px = 2 * math.sqrt(max(patch.area_px for patch in patches) / math.pi)
    if px_per_mm is None:
        return with_unit(worked_px * surface.shrink, "px", 2)
    return with_unit(worked_px / surface.px_per_mm, "mm", 2)
