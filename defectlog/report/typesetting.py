"""A page template and plain values become a PDF, with our own letters and nothing from outside."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import typst

from defectlog.paths import web_folder


def typeset(template: str, data: Mapping[str, Any], *, root: Path | None = None) -> bytes:
    """Set a document of ``templates/report``.

    Parameters
    ----------
    template : file name, such as ``"scale-card.typ"``
    data : what the template shows, as plain values that JSON can hold. Text in it is printed as it
        stands and can never act as a command of the template.
    root : folder, optional
        Where the template may read pictures from; by default only its own folder.

    Returns
    -------
    bytes
        The PDF. The same values give the same pages.
    """
    source = web_folder("templates") / "report" / template
    # Under a root of its own the template has to be handed over as text, for it lies outside.
    return typst.compile(
        str(source) if root is None else source.read_bytes(),
        root=str(root or source.parent),
        format="pdf",
        sys_inputs={"data": json.dumps(data)},
        font_paths=[str(web_folder("static") / "vendor" / "atkinson-hyperlegible-next-print")],
        ignore_system_fonts=True,
        pdf_standards=["ua-1"],
    )
