"""A chart as a picture for a report: the drawing of the page on white paper, and what it says.

The places come from the same drawing as the page's chart; here they are only written down, with
colours in place of classes. Nothing in the picture can act and nothing points outside it.
"""

from dataclasses import dataclass
from functools import cache
from xml.etree import ElementTree as Xml

import typst
from PIL import ImageFont

from defectlog.paths import web_folder
from defectlog.report.chart_shapes import LETTER, PAPER, Drawing, Pen, clean, colours, draw

FAMILY = "Atkinson Hyperlegible Next"
SERIES_KEY = "Circles lie within the limits (shaded), diamonds outside. Dashed: the centre."
STRIPS_KEY = "Every circle is one panel, the upright line the mean of its setting."
_MARGIN = 24.0
_LINE = 1.4  # from line to line, in letters
_BOLD, _REGULAR = "700", "400"
_PRINT_FONTS = "atkinson-hyperlegible-next-print"


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
            "font-size": f"{LETTER:g}",
        },
    )
    Xml.SubElement(root, "title").text = clean(picture.title)
    Xml.SubElement(root, "desc").text = clean(f"{picture.sentence} {picture.source}")
    sheet = Xml.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": PAPER})
    page = _Page(root, drawing.width)
    page.say(picture.title, size=1.35 * LETTER, weight=_BOLD)
    page.say(picture.sentence)
    page.say(picture.up, ink="ink-soft", gap=0.5 * LETTER)
    page.y += 0.4 * LETTER
    field = Xml.SubElement(root, "g", {"transform": f"translate({_MARGIN:g} {page.y:g})"})
    draw(drawing, Pen(field), picture.across)
    page.y += drawing.height + 0.4 * LETTER
    page.say(picture.key, ink="ink-soft", size=0.9 * LETTER)
    page.say(picture.source, ink="ink-soft", size=0.9 * LETTER)
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
        size: float = LETTER,
        weight: str = _REGULAR,
        ink: str = "ink",
        gap: float = 0.0,
    ) -> None:
        if not words:
            return
        self.y += gap
        for line in _lines(clean(words), self.width / size, weight):
            self.y += _LINE * size
            text = Xml.SubElement(
                self.root,
                "text",
                {
                    "x": f"{_MARGIN:g}",
                    "y": f"{self.y - 0.35 * size:.2f}",
                    "font-size": f"{size:g}",
                    "font-weight": weight,
                    "fill": colours()[ink],
                },
            )
            text.text = line


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
