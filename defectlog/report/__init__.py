"""Documents to hand out: PDF pages and exports, from plain values."""

from defectlog.report.scale_card import Paper, scale_card_pdf
from defectlog.report.typesetting import typeset

__all__ = ["Paper", "scale_card_pdf", "typeset"]
