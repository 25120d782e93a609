"""How the figure of a measurement was made: step by step, in words, with the photo as example."""

import math
from dataclasses import dataclass

from defectlog.bench.how_pictures import explanation
from defectlog.bench.rejected import rejected_of
from defectlog.bench.room import measurement_words, scale_words, settings_words
from defectlog.charts.histogram import HistogramDrawing, histogram_drawing
from defectlog.measure.explain import Explanation
from defectlog.measure.explain_cloth import ClothSeen
from defectlog.measure.figures.result import METHOD_VERSION
from defectlog.photos.renditions import PhotoStore
from defectlog.records import Measurement
from defectlog.units import figure, measured_percent, percent, percent_range, plural, with_unit


@dataclass(frozen=True, slots=True)
class Step:
    """One step: what it is called, what it does here, and which pictures show it.

    ``pictures`` are (step of ``how_pictures``, what it shows) pairs.
    """

    title: str
    words: tuple[str, ...]
    pictures: tuple[tuple[str, str], ...] = ()
    reasons: tuple[tuple[str, str], ...] = ()
    histogram: HistogramDrawing | None = None
    histogram_words: str = ""


@dataclass(frozen=True, slots=True)
class HowMade:
    """A figure with its steps, and what to mind about them."""

    figure_words: str
    interval_words: str
    of_words: str | None
    steps: tuple[Step, ...]
    notes: tuple[str, ...]


def how_made(measured: Measurement, store: PhotoStore) -> HowMade:
    """Go through the steps of a measurement. Reads the photo and takes its time."""
    made = explanation(measured, store)
    said = measurement_words(measured)
    by_hand = bool(measured.settings.get("threshold"))
    notes = [f"Set to: {settings_words(measured.settings, found=measured.look)}."]
    if measured.version != METHOD_VERSION:
        notes.append(
            f"The figure was made by method version {measured.version}; the pictures and numbers "
            f"of the steps before the last are drawn by version {METHOD_VERSION} and may differ "
            "a little."
        )
    return HowMade(
        figure_words=said["void_pct_words"],
        interval_words=said["interval_words"],
        of_words=said["of_words"],
        steps=(
            _photo(measured, said["inspected_words"]),
            _light(measured, made),
            _surface(made, by_hand=by_hand, also=measured.settings.get("also")),
            _candidates(measured, made),
            *(() if made.cloth is None else (_patches(measured, made.cloth),)),
            _counted(measured, said),
        ),
        notes=tuple(notes),
    )


def _photo(measured: Measurement, inspected: str) -> Step:
    words = [
        "Colour says little about voids, so only the light counts. A camera stores light squeezed; "
        "that is undone first, for half of a void is only half in true light.",
        f"{scale_words(measured.scale)}. {inspected}.",
    ]
    if measured.region is not None or (measured.scale and measured.scale.card_outlines):
        words.append("Darkened is what lies beside the region or under the scale card.")
    if measured.not_inspected_fraction > 0:
        words.append(
            "Hatched is what cannot be judged: glare, which is too bright, with what it hides "
            "round about, or dyed yarn on which voids like these would not show. It counts neither "
            "as sound nor as void."
        )
    return Step("The photo in grey", tuple(words), (("grey", "The photo in grey"),))


def _light(measured: Measurement, made: Explanation) -> Step:
    over = measured.settings.get("light_mm")
    wide = f" over {with_unit(over, 'mm')}" if over and measured.scale else ""
    return Step(
        "The light evened out",
        (
            f"From the darkest to the brightest corner of the inspected surface the light itself "
            f"went from {figure(made.light_low, 2)} to {figure(made.light_high, 2)} times its "
            f"middle. It is taken from the surface, smoothed{wide} with voids and glints left "
            "aside, and divided out. Without this a shaded corner would measure as one large void.",
        ),
        (
            ("light", "The light that fell on the surface"),
            ("even", "The surface with that light taken out"),
        ),
    )


def _surface(made: Explanation, *, by_hand: bool, also: str | None) -> Step:
    scatter = percent(made.scatter)
    left = "weave, dust"
    words = []
    if made.is_bare:
        left = "dust"
        words.append(
            "Light and dark tows differ more here than voids do. Each place was compared with the "
            "same tow one repeat of the weave further on, and what comes up again was taken out."
        )
    if made.near_mm:
        words.append(
            "Tows differ as much from each other here as voids from them. Each place was compared "
            f"with the middle of what lies within {figure(made.near_mm / 2, 1)} mm of it."
        )
    words.append(
        f"What is left still scatters by {scatter} of its light: {left} and the noise of the "
        "camera. That is how the surface itself says what counts as standing out."
    )
    line = None
    side = "brighter" if made.look == "bright" else "darker"
    if made.threshold is None or made.reach is None:
        words.append(
            "Neither on the dark nor on the bright side is there more far out than such a surface "
            "has by itself, so nothing was taken for a void."
        )
    elif by_hand:
        line = made.reach if made.look == "bright" else -made.reach
        words.append(
            f"The threshold was set by hand: a spot counts from {_contrast(made)} {side} than the "
            "surface around it, pixel by pixel. Where the weave repeats, each place is held "
            "against the same place of the repeats beside it, so that a dark tow is none."
        )
    else:
        line = made.reach if made.look == "bright" else -made.reach
        words.append(
            f"Far out on the {'bright' if made.look == 'bright' else 'dark'} side there is more "
            f"than that scatter explains. A spot starts to count {_contrast(made)} {side} "
            f"than its surroundings, which is {figure(made.reach / made.scatter, 2)} times the "
            "scatter; its outline then runs halfway between its own light and that of the surface "
            "round it."
        )
    if also is not None:
        words.append(
            f"{also.capitalize()} spots stood out as clearly. They were found the same way with a "
            "threshold of their own, and are counted too; the picture below shows the others alone."
        )
    return Step(
        "What stands out",
        tuple(words),
        (("standing-out", "Grey: how far each spot stands out. Coloured: far enough to look at"),),
        histogram=histogram_drawing(made.edges, made.counts, line=line),
        histogram_words=_histogram_words(made, side),
    )


def _contrast(made: Explanation) -> str:
    """How much light a spot has less or more than its surroundings where it starts to count."""
    reach = made.reach or 0.0
    return percent(math.expm1(reach) if made.look == "bright" else -math.expm1(-reach))


def _histogram_words(made: Explanation, side: str) -> str:
    words = "How much of the surface has how much light, darker to the left, brighter to the right"
    if made.threshold is None:
        return f"{words}. Nothing lies far out."
    return f"{words}. Past the line, {_contrast(made)} {side}, spots are looked at."


def _candidates(measured: Measurement, made: Explanation) -> Step:
    turned = rejected_of(measured)
    shown = turned is not None and turned.count > 0
    words = []
    if measured.settings.get("threshold"):
        words.append(
            "With a threshold set by hand nothing is turned away for its look, only for its size."
        )
    else:
        words.append(
            f"{plural(made.candidates, 'spot')} "
            f"{'reaches' if made.candidates == 1 else 'reach'} past the line. What comes back with "
            "the pitch of the weave is cloth. The others are judged by how sharp, how deep and how "
            "round they are: a hair is long, a shadow is soft, a void is neither."
        )
        if turned and turned.count + measured.count != made.candidates:
            words.append(
                "Outlined at half their contrast, neighbours join and others fall in two, so "
                "these spots and the voids counted need not add up."
            )
    if turned is None:
        words.append("Which of them were turned away was not kept by the version that measured.")
    elif not turned.reasons:
        words.append("None was turned away.")
    else:
        words.append(f"{plural(turned.count, 'spot')} turned away:")
    return Step(
        "What was turned away, and why",
        tuple(words),
        (("turned-away", "Hollow marks: looked at and not counted"),) if shown else (),
        reasons=turned.reasons if turned else (),
    )


def _patches(measured: Measurement, cloth: ClothSeen) -> Step:
    words = [
        "A dry spot wider than the tows may be no darker than they are. So the cloth is looked at "
        "once more as a whole, its tows averaged out and the small voids left aside: whether a "
        "patch of it is paler or darker than the cloth round about, or light and dark alternate "
        "less in it, with an edge all round. A shadow has no such edge, and what the cloth shows "
        "elsewhere by itself is no patch."
    ]
    left = len(cloth.outlines) - cloth.counted
    if not cloth.outlines:
        words.append("No patch stands out here.")
    if cloth.counted:
        words.append(f"{plural(cloth.counted, 'patch', 'patches')} outlined: counted as void.")
    if left:
        words.append(
            f"{plural(left, 'patch', 'patches')} in dashes may be one: not counted, but "
            "within the upper limit of the interval"
            + (
                ""
                if measured.settings.get("look") == "auto"
                else ", if it is of the side asked for"
            )
            + ". Look at the part there."
        )
    return Step(
        "The cloth as a whole",
        tuple(words),
        (
            ("tone", "The tone of the cloth: brighter is paler than round about"),
            ("swing", "How much light and dark alternate in it: brighter is more"),
        ),
    )


def _counted(measured: Measurement, said: dict[str, str]) -> Step:
    words = [
        f"{said['count_words']} counted: {said['void_pct_words']} of the inspected surface. "
        + (
            "With a threshold set by hand, whole pixels are counted."
            if measured.settings.get("threshold")
            else "A void a few pixels across is sized by the light it takes away, not by whole "
            "pixels."
        )
    ]
    low, high = measured.void_fraction_low, measured.void_fraction_high
    of = said["of_words"]
    if measured.count:
        words.append(
            f"The measuring interval, {percent_range(low, high)}, joins "
            "what moving the outlines by a share of the contrast would change with what no photo "
            "shows, and with what lies so near to the threshold that it may be void or cloth. It "
            "is made to hold the true share in 95 of 100 photos; where light or cloth is unlike "
            "what it was tried on, it does so less often."
        )
    else:
        words.append(
            f"{f'None of the {of}' if of else 'No void'} found does not mean none there: up to "
            f"{measured_percent(high)} may have been missed. In 95 of 100 such photos there should "
            "be no more."
        )
    if said["spread_words"]:
        words.append(f"{said['spread_words']}. That is another question, and never mixed in.")
    return Step(
        "What was counted", tuple(words), (("counted", "Coloured: what was counted as void"),)
    )
