"""A chart as a picture for a report: the drawing of the page on white paper, and what it says.

The places come from the same drawing as the page's chart; here they are only written down, with
colours in place of classes. Nothing in the picture can act and nothing points outside it.
"""

import re
from dataclasses import dataclass
from functools import cache, singledispatch
from xml.etree import ElementTree as Xml

import typst
from PIL import ImageFont

from defectlog.charts.bars import BarDrawing
from defectlog.charts.drawing import SeriesDrawing
from defectlog.charts.strips import StripDrawing
from defectlog.paths import web_folder

FAMILY = "Atkinson Hyperlegible Next"
PAPER = "white"
SERIES_KEY = "Circles lie within the limits (shaded), diamonds outside. Dashed: the mean."
STRIPS_KEY = "Every circle is one panel, the upright line the mean of its setting."
_LETTER = 15.0
_MARGIN = 24.0
_LINE = 1.4  # from line to line, in letters
_BOLD, _REGULAR = "700", "400"
_NOT_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_PRINT_FONTS = "atkinson-hyperlegible-next-print"


@dataclass(frozen=True, slots=True)
class BarRows:
    """Bars one below the other: what each is called, its figures in words, and its bar."""

    rows: tuple[tuple[str, str, BarDrawing], ...]
    width: float = 930.0
    letter: float = _LETTER
    pitch: float = 30.0

    @property
    def height(self) -> float:
        return self.pitch * len(self.rows)


Drawing = SeriesDrawing | StripDrawing | BarRows


@dataclass(frozen=True, slots=True)
class ChartPicture:
    """A drawing with all that has to stand beside it once it has left the page.

    ``up`` names what runs upwards with its unit, ``across`` what runs along the bottom, ``key``
    how the signs are read, ``source`` whose records it comes from and when it was drawn.
    """

    title: str
    sentence: str
    drawing: Drawing
    source: str
    up: str = ""
    across: str = ""
    key: str = ""


def chart_svg(picture: ChartPicture) -> str:
    """Write the picture as a stand-alone SVG.

    Returns
    -------
    str
        A document of its own, in units of the drawing; one unit is one pixel at 96 dpi. Letters
        are set in our own type where it is installed and in any sans serif elsewhere.
    """
    drawing = picture.drawing
    root = Xml.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "role": "img",
            "font-family": f"'{FAMILY}', sans-serif",
            "font-size": f"{_LETTER:g}",
        },
    )
    Xml.SubElement(root, "title").text = _clean(picture.title)
    Xml.SubElement(root, "desc").text = _clean(f"{picture.sentence} {picture.source}")
    sheet = Xml.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": PAPER})
    page = _Page(root, drawing.width)
    page.say(picture.title, size=1.35 * _LETTER, weight=_BOLD)
    page.say(picture.sentence)
    page.say(picture.up, ink="ink-soft", gap=0.5 * _LETTER)
    page.y += 0.4 * _LETTER
    field = Xml.SubElement(root, "g", {"transform": f"translate({_MARGIN:g} {page.y:g})"})
    _draw(drawing, _Pen(field), picture)
    page.y += drawing.height + 0.4 * _LETTER
    page.say(picture.key, ink="ink-soft", size=0.9 * _LETTER)
    page.say(picture.source, ink="ink-soft", size=0.9 * _LETTER)
    width, height = page.width + 2 * _MARGIN, round(page.y + _MARGIN)
    root.set("viewBox", f"0 0 {width:g} {height:g}")
    root.set("width", f"{width:g}")
    root.set("height", f"{height:g}")
    sheet.set("width", f"{width:g}")
    sheet.set("height", f"{height:g}")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + Xml.tostring(root, encoding="unicode")


def chart_png(picture: ChartPicture, *, scale: float = 2.0) -> bytes:
    """Paint the same picture as PNG, ``scale`` pixels to a unit of the SVG, letters our own."""
    svg = chart_svg(picture)
    root = Xml.fromstring(svg.encode())
    return typst.compile(
        b"#let told = json(bytes(sys.inputs.size))\n"
        b"#set page(width: told.at(0) * 1pt, height: told.at(1) * 1pt, margin: 0pt)\n"
        b'#image(bytes(sys.inputs.svg), format: "svg", width: 100%, height: 100%)',
        format="png",
        ppi=72.0 * scale,
        sys_inputs={"svg": svg, "size": f"[{root.get('width')}, {root.get('height')}]"},
        font_paths=[str(web_folder("static") / "vendor" / _PRINT_FONTS)],
        ignore_system_fonts=True,
    )


class _Page:
    """The text above and below the field, from the top down."""

    def __init__(self, root: Xml.Element, width: float) -> None:
        self.root, self.width, self.y = root, width, _MARGIN

    def say(
        self,
        words: str,
        *,
        size: float = _LETTER,
        weight: str = _REGULAR,
        ink: str = "ink",
        gap: float = 0.0,
    ) -> None:
        if not words:
            return
        self.y += gap
        for line in _lines(_clean(words), self.width / size, weight):
            self.y += _LINE * size
            text = Xml.SubElement(
                self.root,
                "text",
                {
                    "x": f"{_MARGIN:g}",
                    "y": f"{self.y - 0.35 * size:.2f}",
                    "font-size": f"{size:g}",
                    "font-weight": weight,
                    "fill": _colours()[ink],
                },
            )
            text.text = line


class _Pen:
    """Writes shapes into one group; colours go by their names in the page's own style."""

    def __init__(self, group: Xml.Element) -> None:
        self.group = group

    def put(self, shape: str, /, words: str | None = None, **attributes: object) -> None:
        colours = _colours()
        written = {}
        for name, value in attributes.items():
            text = f"{value:g}" if isinstance(value, float) else str(value)
            written[name.replace("_", "-")] = colours.get(text, text)
        made = Xml.SubElement(self.group, shape, written)
        if words is not None:
            made.text = _clean(words)


@singledispatch
def _draw(drawing: object, pen: _Pen, picture: ChartPicture) -> None:
    raise TypeError(f"{type(drawing).__name__} is no drawing")


@_draw.register
def _series(drawing: SeriesDrawing, pen: _Pen, picture: ChartPicture) -> None:
    for tick in drawing.y_ticks:
        pen.put(
            "line", x1=drawing.left, x2=drawing.right, y1=tick.place, y2=tick.place, stroke="rule"
        )
        beside, down = drawing.left - 0.5 * drawing.letter, tick.place + 0.35 * drawing.letter
        pen.put("text", tick.words, x=beside, y=down, text_anchor="end", fill="ink-soft")
    for tick in drawing.x_ticks:
        _below(pen, tick.words, tick.place, drawing.x_words_y, "middle")
    _below(pen, picture.across, drawing.right, drawing.title_y, "end")
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


def _changes(drawing: SeriesDrawing, pen: _Pen) -> None:
    for change in drawing.changes:
        pen.put(
            "line",
            x1=change.x,
            x2=change.x,
            y1=change.top,
            y2=drawing.bottom,
            stroke="accent",
            stroke_width=2,
        )
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


@_draw.register
def _strips(drawing: StripDrawing, pen: _Pen, picture: ChartPicture) -> None:
    across = drawing.right - drawing.left
    for strip in drawing.strips:
        pen.put("text", strip.words, x=drawing.left, y=strip.words_y, fill="ink-soft")
        tall = round(strip.bottom - strip.top, 2)
        pen.put(
            "rect",
            x=drawing.left,
            y=strip.top,
            width=across,
            height=tall,
            fill="accent-soft",
            fill_opacity=0.55,
        )
        if strip.mean_x is not None:
            pen.put(
                "line",
                x1=strip.mean_x,
                x2=strip.mean_x,
                y1=strip.top,
                y2=strip.bottom,
                stroke="accent",
                stroke_width=2,
            )
        for dot in strip.dots:
            _circle(pen, dot.x, dot.y, drawing.radius)
    for tick in drawing.ticks:
        _below(pen, tick.words, tick.place, drawing.ticks_y, "middle")


@_draw.register
def _bars(drawing: BarRows, pen: _Pen, picture: ChartPicture) -> None:
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


def _below(pen: _Pen, words: str, x: float, y: float, anchor: str) -> None:
    if words:
        pen.put("text", words, x=x, y=y, text_anchor=anchor, fill="ink-soft")


def _circle(pen: _Pen, x: float, y: float, radius: float) -> None:
    pen.put("circle", cx=x, cy=y, r=radius, fill=PAPER, stroke="ink", stroke_width=1.75)


def _lines(words: str, width: float, weight: str) -> list[str]:
    """Break words into lines of so many letter heights, measured with the letters themselves."""
    lines: list[str] = []
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and _length(longer, weight) <= width:
            lines[-1] = longer
            continue
        while _length(word, weight) > width:  # one word wider than the sheet
            fits = next(n for n in range(len(word), 0, -1) if _length(word[:n], weight) <= width)
            lines.append(word[:fits])
            word = word[fits:]
        lines.append(word)
    return lines


def _length(words: str, weight: str) -> float:
    """How long words are, in letter heights."""
    return _font(weight).getlength(words) / _font(weight).size


@cache
def _font(weight: str) -> ImageFont.FreeTypeFont:
    name = "700Bold" if weight == _BOLD else "400Regular"
    file = f"AtkinsonHyperlegibleNext_{name}.ttf"
    return ImageFont.truetype(str(web_folder("static") / "vendor" / _PRINT_FONTS / file), 100)


@cache
def _colours() -> dict[str, str]:
    """The colours of the pages by name, from the one file that holds them."""
    text = (web_folder("static") / "css" / "tokens.css").read_text("utf-8")
    return dict(re.findall(r"--([a-z0-9-]+):\s*(#[0-9a-f]{6})", text))


def _clean(words: str) -> str:
    """XML has no sign for control characters, whatever was typed."""
    return _NOT_XML.sub(" ", words)
