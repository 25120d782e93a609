"""The shapes of a drawing written down as SVG, with colours in place of the page's classes."""

import re
from dataclasses import dataclass
from functools import cache, singledispatch
from xml.etree import ElementTree as Xml

from defectlog.charts.bars import BarDrawing
from defectlog.charts.drawing import SeriesDrawing
from defectlog.charts.strips import StripDrawing
from defectlog.paths import web_folder

PAPER = "white"
LETTER = 15.0
_NOT_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True)
class BarRows:
    """Bars one below the other: what each is called, its figures in words, and its bar."""

    rows: tuple[tuple[str, str, BarDrawing], ...]
    width: float = 930.0
    letter: float = LETTER
    pitch: float = 30.0

    @property
    def height(self) -> float:
        return self.pitch * len(self.rows)


Drawing = SeriesDrawing | StripDrawing | BarRows


class Pen:
    """Writes shapes into one group; colours go by their names in the page's own style."""

    def __init__(self, group: Xml.Element) -> None:
        self.group = group

    def put(self, shape: str, /, words: str | None = None, **attributes: object) -> None:
        named = colours()
        written = {}
        for name, value in attributes.items():
            text = f"{value:g}" if isinstance(value, float) else str(value)
            written[name.replace("_", "-")] = named.get(text, text)
        made = Xml.SubElement(self.group, shape, written)
        if words is not None:
            made.text = clean(words)


@singledispatch
def draw(drawing: object, pen: Pen, across: str = "") -> None:
    """Write a drawing down; ``across`` names what runs along its foot."""
    raise TypeError(f"{type(drawing).__name__} is no drawing")


@draw.register
def _series(drawing: SeriesDrawing, pen: Pen, across: str = "") -> None:
    for tick in drawing.y_ticks:
        pen.put(
            "line", x1=drawing.left, x2=drawing.right, y1=tick.place, y2=tick.place, stroke="rule"
        )
        beside, down = drawing.left - 0.5 * drawing.letter, tick.place + 0.35 * drawing.letter
        pen.put("text", tick.words, x=beside, y=down, text_anchor="end", fill="ink-soft")
    for tick in drawing.x_ticks:
        _below(pen, tick.words, tick.place, drawing.x_words_y, "middle")
    _below(pen, across, drawing.right, drawing.title_y, "end")
    for band in drawing.bands:
        pen.put("path", d=band.area, fill="accent-soft", fill_opacity=0.55)
        pen.put("path", d=band.upper, fill="none", stroke="edge")
        pen.put("path", d=band.lower, fill="none", stroke="edge")
        pen.put("path", d=band.centre, fill="none", stroke="ink-soft", stroke_dasharray="6 4")
    _changes(drawing, pen)
    for run in drawing.runs:
        pen.put("polyline", points=run, fill="none", stroke="ink", stroke_width=1.25)
    for dot in drawing.dots:
        if dot.diamond:
            pen.put("path", d=dot.diamond, fill="over", stroke="over")
        else:
            _circle(pen, dot.x, dot.y, drawing.radius)


def _changes(drawing: SeriesDrawing, pen: Pen) -> None:
    for change in drawing.changes:
        _upright(pen, change.x, change.top, drawing.bottom)
    for change in drawing.changes:
        pen.put(
            "text",
            change.words,
            x=change.words_x,
            y=change.words_y,
            text_anchor=change.anchor,
            fill="accent",
            font_weight=700,
        )


@draw.register
def _strips(drawing: StripDrawing, pen: Pen, across: str = "") -> None:
    wide = drawing.right - drawing.left
    for strip in drawing.strips:
        pen.put("text", strip.words, x=drawing.left, y=strip.words_y, fill="ink-soft")
        tall = round(strip.bottom - strip.top, 2)
        pen.put(
            "rect",
            x=drawing.left,
            y=strip.top,
            width=wide,
            height=tall,
            fill="accent-soft",
            fill_opacity=0.55,
        )
        if strip.mean_x is not None:
            _upright(pen, strip.mean_x, strip.top, strip.bottom)
        for dot in strip.dots:
            _circle(pen, dot.x, dot.y, drawing.radius)
    for tick in drawing.ticks:
        _below(pen, tick.words, tick.place, drawing.ticks_y, "middle")


@draw.register
def _bars(drawing: BarRows, pen: Pen, across: str = "") -> None:
    start = 0.62 * drawing.width
    unit = (drawing.width - start) / 100
    for number, (name, words, bar) in enumerate(drawing.rows):
        middle = (number + 0.5) * drawing.pitch
        line = middle + 0.35 * drawing.letter
        pen.put("text", name, x=0, y=line, fill="ink")
        pen.put("text", words, x=start - drawing.letter, y=line, fill="ink", text_anchor="end")
        high = 0.5 * drawing.pitch
        pen.put(
            "rect",
            x=start,
            y=middle - high / 2,
            width=bar.length * unit,
            height=high,
            fill="tab",
            stroke="edge",
        )
        left, right = start + bar.low * unit, start + bar.high * unit
        pen.put("line", x1=left, x2=right, y1=middle, y2=middle, stroke="ink", stroke_width=1.5)
        for end in (left, right):
            pen.put("line", x1=end, x2=end, y1=middle - 5, y2=middle + 5, stroke="ink")


def _below(pen: Pen, words: str, x: float, y: float, anchor: str) -> None:
    if words:
        pen.put("text", words, x=x, y=y, text_anchor=anchor, fill="ink-soft")


def _upright(pen: Pen, x: float, top: float, bottom: float) -> None:
    pen.put("line", x1=x, x2=x, y1=top, y2=bottom, stroke="accent", stroke_width=2)


def _circle(pen: Pen, x: float, y: float, radius: float) -> None:
    pen.put("circle", cx=x, cy=y, r=radius, fill=PAPER, stroke="ink", stroke_width=1.75)


@cache
def colours() -> dict[str, str]:
    """The colours of the pages by name, from the one file that holds them."""
    text = (web_folder("static") / "css" / "tokens.css").read_text("utf-8")
    return dict(re.findall(r"--([a-z0-9-]+):\s*(#[0-9a-f]{6})", text))


def clean(words: str) -> str:
    """XML has no sign for control characters, whatever was typed."""
    return _NOT_XML.sub(" ", words)
