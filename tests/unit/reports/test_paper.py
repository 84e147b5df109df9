"""PDFs: reproducible in every process, tagged, with fonts inside, and nothing fetched."""

import datetime
import hashlib
import io
import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

from register import paper as render
from register.domain.identity import Identity

ROOT = Path(__file__).resolve().parents[3]
HOSTILE = "</p><img src=http://x.test/a><script>alert(1)</script> {{ 7 }} ünïcode \u202e"
PAGE = """{% extends "reports/pdf/_page.html" %}{% block content %}<h1>{{ title }}</h1>
<p>{{ text }}</p><table><thead><tr><th scope="col">Row</th></tr></thead>
<tbody>{% for row in rows %}<tr><td>row {{ row }}</td></tr>{% endfor %}</tbody></table>
{% endblock %}"""
CONTEXT = {
    "title": "Audit of a quarter",
    "site": "Harrowmere General Hospital",
    "dated": datetime.date(2027, 4, 10),
    "printed": "Printed by R. Marsh on 10 Apr 2027, 09:05",
    "digest": "ab" * 32,
    "text": "Everything as it was.",
    "rows": range(60),
}


@pytest.fixture
def page(settings, tmp_path):
    """Write a template and return its name."""
    own = settings.TEMPLATES[0]
    settings.TEMPLATES = [own | {"DIRS": [tmp_path, *own["DIRS"]]}]

    def write(text=PAGE, name="page.html"):
        (tmp_path / name).write_text(text)
        return name

    return write


def texts(data):
    return [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]


def test_the_same_context_gives_the_same_bytes(page):
    name = page()
    data, digest = render.pdf(name, CONTEXT)
    assert render.pdf(name, CONTEXT) == (data, digest)
    assert digest == hashlib.sha256(data).hexdigest()
    assert render.pdf(name, CONTEXT | {"text": "Other."})[1] != digest


def test_another_process_at_another_time_gives_the_same_bytes(page, tmp_path):
    _, digest = render.pdf(page(), CONTEXT)
    code = (
        "import django, sys; from django.conf import settings as s\n"
        "sys.path.insert(0, sys.argv[1])\n"
        "s.configure(TEMPLATES=[{'BACKEND': 'django.template.backends.django.DjangoTemplates',"
        "'DIRS': [sys.argv[2], sys.argv[1] + '/templates'],"
        "'OPTIONS': {'builtins': []}}], LANGUAGE_CODE='en-gb', USE_TZ=True)\n"
        "django.setup()\n"
        "from tests.unit.reports.test_paper import CONTEXT; from register import paper as render\n"
        "print(render.pdf('page.html', CONTEXT)[1])"
    )
    env = os.environ | {"TZ": "Pacific/Auckland", "PYTHONHASHSEED": "7", "LANG": "C"}
    run = subprocess.run(
        [sys.executable, "-c", code, str(ROOT), str(tmp_path)],
        env=env,
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout.strip() == digest


def test_head_foot_and_page_number_stand_on_every_page(page):
    pages = texts(render.pdf(page(), CONTEXT)[0])
    assert len(pages) > 1
    for number, text in enumerate(pages, 1):
        assert "Harrowmere General Hospital" in text
        assert f"page {number} of {len(pages)}" in text
        assert "Not placed on the market as a medical device" in " ".join(text.split())
        assert "ab" * 32 in text
        assert "Printed by R. Marsh" in text


def test_table_heads_repeat_and_no_row_is_lost(page):
    pages = texts(render.pdf(page(), CONTEXT)[0])
    with_rows = [text for text in pages if "row " in text]
    assert all("Row" in text for text in with_rows)
    assert sum(text.count("row ") for text in pages) >= 60


def test_a_document_about_one_patient_names_the_patient_on_every_page(page):
    identity = Identity(
        family_name="ARDEN",
        given_name="Maud",
        born="14 May 1942",
        age="84 y",
        sex="female",
        nhs_number="999 000 0018",
        hospital_number="H100234",
        allergies="none known",
        needs="hearing aid",
    )
    pages = texts(render.pdf(page(), CONTEXT | {"identity": identity})[0])
    assert len(pages) > 1
    for text in pages:
        assert "ARDEN, Maud" in text
        assert "999 000 0018" in text


def test_the_document_is_tagged_titled_and_carries_its_fonts(page):
    reader = PdfReader(io.BytesIO(render.pdf(page(), CONTEXT)[0]))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en-GB"
    assert reader.metadata.title == "Audit of a quarter"
    assert str(reader.metadata.get("/CreationDate")).startswith("D:20270410")
    fonts = reader.pages[0]["/Resources"]["/Font"].values()
    names = {font.get_object()["/BaseFont"] for font in fonts}
    assert names
    assert all("Source-Sans-Pro" in name for name in names)


LEAKY_SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">'
    '<image href="http://x.test/b.png" width="9" height="9"/></svg>'
)


def around(content):
    return f'{{% extends "reports/pdf/_page.html" %}}{{% block content %}}{content}{{% endblock %}}'


@pytest.mark.parametrize(
    "wish",
    [
        "<img src='https://x.test/a.png' alt='a'>",
        "<img src='file:///etc/hostname' alt='a'>",
        "<img src='picture.png' alt='a'>",
        "<link rel=stylesheet href='http://x.test/a.css'>",
        "<link rel=attachment href='file:///etc/hostname'>",
        "<style>@import url(http://x.test/a.css)</style>",
        "<style>p { background: url(ftp://x.test/a) }</style><p>x</p>",
    ],
)
def test_a_template_that_asks_for_an_address_fails_loudly(page, wish):
    with pytest.raises(render.ReportError, match=r"page\.html asks for .*put it into the document"):
        render.pdf(page(around(wish)), CONTEXT)


@pytest.mark.parametrize(
    "part",
    [
        f"<img src='{render.data_address('<svg')}' alt='a'>",
        f"<img src='{render.data_address(LEAKY_SVG)}' alt='a'>",
        "<img src='data:,x'>",
    ],
)
def test_a_part_that_cannot_be_drawn_stops_the_document(page, part):
    with pytest.raises(render.ReportError, match=r"page\.html cannot be drawn whole: "):
        render.pdf(page(around(part)), CONTEXT)


def test_hostile_text_opens_no_socket_and_attaches_nothing(page, monkeypatch):
    def refuse(*args, **kwargs):
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    hostile = CONTEXT | {"text": HOSTILE, "title": HOSTILE, "site": HOSTILE, "printed": HOSTILE}
    reader = PdfReader(io.BytesIO(render.pdf(page(), hostile)[0]))
    assert "<script>alert(1)</script>" in reader.pages[0].extract_text()
    assert not reader.attachments
