"""The sheet on one A4 page, made with typst, the same bytes for the same case."""

from mountproof.surfaces.outfile import check_writable
from mountproof.surfaces.outfile import write_whole as write_report
from mountproof.surfaces.report.paper import message_paper, paper_pdf
from mountproof.surfaces.report.render import render_pdf

__all__ = ["check_writable", "message_paper", "paper_pdf", "render_pdf", "write_report"]
