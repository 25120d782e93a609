"""Documents to hand out: PDF pages and exports, from plain values."""

from defectlog.report.scale_card import PAPERS, Paper, scale_card_pdf
from defectlog.report.typesetting import typeset

__all__ = ["PAPERS", "Paper", "scale_card_pdf", "typeset"]
