"""plotly.js must find its style sheets in the page, or it writes them there inline."""

import re
from pathlib import Path

from register.config.assets import FILES

PART = Path(__file__).parents[2] / "templates/components/chart_scripts.html"
LIBRARY = FILES["vendor/plotly.min.js"].read_text(encoding="utf-8")


def test_style_sheets_of_the_library_are_found_by_their_ids():
    """After an upgrade this fails when the library asks for another id."""
    asked = set(re.findall(r'getElementById\("([0-9a-f]{64})"\)', LIBRARY))
    offered = set(re.findall(r'<template id="([0-9a-f]{64})">', PART.read_text()))
    assert asked == offered


def test_the_librarys_own_sheet_is_replaced_by_ours():
    assert '"plotly.js-style-"+' in LIBRARY
    assert ".no-inline-styles" in LIBRARY
    link = re.search(
        r'<link id="plotly.js-style-global" class="no-inline-styles"', PART.read_text()
    )
    assert link
