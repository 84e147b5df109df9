"""HTML to PDF: the only module that knows WeasyPrint.

A document carries its own styles, fonts and figures. Nothing is fetched while
it is drawn: only `data:` addresses are read, redirects are off, and a template
that asks for any other address fails loudly. The same template and context
give the same bytes, in every process.
"""

import base64
import hashlib
import logging
import threading
from functools import cache
from pathlib import Path
from typing import Any, Final

import font_source_sans_pro
from django.http import HttpResponse
from django.template.loader import render_to_string
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

FONT: Final = "Source Sans Pro"
SHEET: Final = Path(__file__).parent / "static" / "register" / "css" / "paper.css"
# File in the font package, weight and style: the faces that the documents use.
FACES: Final = (
    ("SourceSansPro-Regular.otf", 400, "normal"),
    ("SourceSansPro-It.otf", 400, "italic"),
    ("SourceSansPro-Semibold.otf", 600, "normal"),
)


class ReportError(Exception):
    """A document that cannot be made; the message says what to change."""


class NothingFetched(URLFetcher):
    """Reads `data:` addresses only; any other address stops the document."""

    def __init__(self) -> None:
        super().__init__(allowed_protocols=("data",), allow_redirects=False)

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
        """Return the content of a data address. Raises FatalURLFetchingError for all others."""
        if not url.lower().startswith("data:"):
            raise FatalURLFetchingError(url[:80])
        return super().fetch(url, headers)


class _Complaints(logging.Handler):
    """Collects what WeasyPrint only logs: a figure or an alternative text that is missing."""

    def __init__(self) -> None:
        super().__init__(level=logging.ERROR)
        self._thread = threading.get_ident()
        self.messages: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        if record.thread == self._thread:
            self.messages.append(record.getMessage())


def pdf(template: str, context: dict[str, Any]) -> tuple[bytes, str]:
    """Return the PDF and its SHA-256. The same context gives the same bytes.

    The template extends `reports/pdf/_page.html`, which says what the context
    must hold. Raises ReportError when it asks for an address, or when a part of
    it cannot be drawn: a document is whole or it is not made.
    """
    html = render_to_string(template, context)
    complaints = _Complaints()
    logging.getLogger("weasyprint").addHandler(complaints)
    try:
        data = _draw(html)
    except FatalURLFetchingError as asked:  # a BaseException: no `except Exception` sees it
        raise ReportError(f"{template} asks for {asked}; put it into the document.") from asked
    finally:
        logging.getLogger("weasyprint").removeHandler(complaints)
    if complaints.messages:
        raise ReportError(f"{template} cannot be drawn whole: {complaints.messages[0][:300]}")
    return data, hashlib.sha256(data).hexdigest()


def _draw(html: str) -> bytes:
    fonts = FontConfiguration()
    fetcher = NothingFetched()
    sheet = CSS(string=_sheet(), url_fetcher=fetcher, font_config=fonts)
    # A base of its own makes a relative address an address like any other: refused.
    page = HTML(string=html, base_url="document:/", url_fetcher=fetcher)
    data: bytes = page.write_pdf(stylesheets=[sheet], font_config=fonts, pdf_variant="pdf/ua-1")
    return data


def pdf_response(data: bytes, file_name: str) -> HttpResponse:
    """Send a document; the name holds no identifier, since browsers keep it in their lists."""
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{file_name}"'
    return response


def data_address(content: str, kind: str = "image/svg+xml") -> str:
    """Return text as a `data:` address, the one kind of address a document may hold."""
    return f"data:{kind};base64,{base64.b64encode(content.encode()).decode()}"


@cache
def _sheet() -> str:
    """The style sheet of paper with the fonts inside it, about 1 MB; read once per process."""
    folder = Path(font_source_sans_pro.font_directory)
    faces = [
        f"@font-face {{ font-family: '{FONT}'; font-weight: {weight}; font-style: {style}; "
        f"src: url(data:font/otf;base64,{base64.b64encode((folder / name).read_bytes()).decode()})"
        " }"
        for name, weight, style in FACES
    ]
    return "\n".join([*faces, SHEET.read_text(encoding="utf-8")])
