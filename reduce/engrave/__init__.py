"""MusicXML to pages: verovio engraves line by line, typst makes the PDF."""

from __future__ import annotations

from reduce.engrave.printed import Print, pages, pdf

__all__ = ["Print", "pages", "pdf"]
