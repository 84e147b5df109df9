"""Moved: the drawing of documents is register.paper, so that every layer can print."""

from register.paper import ReportError, data_address, pdf

__all__ = ["ReportError", "data_address", "pdf"]
