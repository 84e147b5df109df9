"""Promises of the look that its files keep: contrast, nothing inline, nothing from elsewhere."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
STATIC = ROOT / "register/static/register"
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
SHEETS = sorted((STATIC / "css").glob("*.css"))
SCRIPTS = sorted((STATIC / "js").rglob("*.js"))
COLOURS = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", (STATIC / "css/base.css").read_text()))


def luminance(colour):
    """Relative luminance (WCAG 2.2, published)."""
    parts = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    """Contrast ratio, 1 to 21 (WCAG 2.2, published)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_of_black_on_white():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("ground", ["paper", "sheet", "wash", "tint"])
@pytest.mark.parametrize("text", ["ink", "muted", "action", "action-deep", "attention"])
def test_text_can_be_read_on_every_ground(text, ground):
    assert contrast(COLOURS[text], COLOURS[ground]) >= 4.5


@pytest.mark.parametrize("ground", ["paper", "sheet"])
@pytest.mark.parametrize("edge", ["line", "ring"])
def test_edges_of_boxes_and_the_focus_ring_can_be_seen(edge, ground):
    assert contrast(COLOURS[edge], COLOURS[ground]) >= 3


def test_the_dark_strip_can_be_read():
    sheet = (STATIC / "css/record.css").read_text().split(".record {")[0]
    texts = set(re.findall(r"color: (#[0-9a-f]{6})", sheet))
    assert len(texts) >= 2
    assert all(contrast(text, COLOURS["ink"]) >= 7 for text in texts)


@pytest.mark.parametrize("drawn", ["film-line", "film-hot", "film-cross"])
def test_what_is_drawn_on_a_picture_stands_out_from_its_dark_edge(drawn):
    assert contrast(COLOURS[drawn], COLOURS["film"]) >= 7


def without_comments(path):
    text = path.read_text()
    text = re.sub(r"{% comment %}.*?{% endcomment %}", "", text, flags=re.DOTALL)
    return re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_template_holds_nothing_inline(path):
    text = without_comments(path)
    assert not re.search(r"\sstyle\s*=|<style", text)
    assert not re.search(r"\son[a-z]+\s*=|hx-on|javascript:|hx-vals=['\"]js", text)
    scripts = re.findall(r"<script([^>]*)>", text)
    assert all(" src=" in script or "application/json" in script for script in scripts)


@pytest.mark.parametrize("path", [*TEMPLATES, *SHEETS, *SCRIPTS], ids=lambda p: p.name)
def test_nothing_is_fetched_from_elsewhere(path):
    text = without_comments(path).replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?://|url\(\s*['\"]?//|@import", text)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_number_box_changes_with_the_wheel(path):
    assert not re.search(r"type=['\"](number|date)['\"]", path.read_text())


@pytest.mark.parametrize("path", SHEETS, ids=lambda p: p.name)
def test_colours_are_named_once(path):
    """Only the palette, the dark strip, paper and print write a colour as a number."""
    if path.name in {"base.css", "record.css", "print.css", "paper.css"}:
        return
    used = set(re.findall(r"#[0-9a-f]{3,6}\b", without_comments(path)))
    assert used <= {"#fff"}


@pytest.mark.parametrize("path", [*SHEETS, *SCRIPTS], ids=lambda p: p.name)
def test_files_stay_short_enough_to_read(path):
    assert len(path.read_text().splitlines()) <= 420
