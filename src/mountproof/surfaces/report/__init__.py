"""The sheet on one A4 page, made with typst, the same bytes for the same case."""

from mountproof.surfaces.report.render import render_pdf
from mountproof.surfaces.report.write import check_writable, write_report

__all__ = ["check_writable", "render_pdf", "write_report"]
