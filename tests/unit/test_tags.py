"""Template tags and filters: dates, units, missing values, states, and the top line."""

from datetime import UTC, date, datetime
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.contrib.auth.models import AnonymousUser
from django.template import Context, Template

from register import context
from register.domain.clock import window
from register.domain.drawing.clock import ClockFace
from register.domain.drawing.strip import Strip, StripLevel
from register.domain.drawing.vertebra import Body
from register.models import Measurement, Referral
from register.tables import Cell, Column, Table

TODAY = date(2027, 3, 7)


def shown(text, **values):
    return Template("{% load units drawings %}" + text).render(Context(values)).strip()


@pytest.mark.parametrize(
    ("text", "value", "words"),
    [
        ("{{ v|day }}", TODAY, "07 Mar 2027"),
        ("{{ v|day }}", None, "not recorded"),
        # 23:30 UTC in summer is the next day at the hospital.
        ("{{ v|day }}", datetime(2027, 6, 30, 23, 30, tzinfo=UTC), "01 Jul 2027"),
        ("{{ v|day_and_time }}", datetime(2027, 6, 30, 23, 30, tzinfo=UTC), "01 Jul 2027, 00:30"),
        ("{{ v|day_and_time }}", None, "not recorded"),
        ("{{ v|day_known:'month' }}", date(2027, 2, 1), "Feb 2027"),
        ("{{ v|day_known:'year' }}", date(2027, 1, 1), "2027"),
        ("{{ v|day_known:'week' }}", TODAY, "about 07 Mar 2027"),
        ("{{ v|day_known:'' }}", TODAY, "07 Mar 2027"),
        ("{{ v|mm }}", Decimal("16.40"), "16.40\u00a0mm"),
        ("{{ v|mm }}", 0, "0\u00a0mm"),
        ("{{ v|mm }}", None, "not recorded"),
        ("{{ v|ml }}", Decimal("4.5"), "4.5\u00a0mL"),
        ("{{ v|deg }}", Decimal("-2.0"), "-2.0°"),
        ("{{ v|with_unit:'%' }}", 35, "35%"),
        ("{{ v|nhs }}", "9990000018", '<span class="together">999 000 0018</span>'),
        ("{{ v|nhs }}", "", "not recorded"),
        ("{{ v|recorded }}", None, '<span class="missing">not recorded</span>'),
        ("{{ v|recorded:'not_done' }}", "", '<span class="missing">not done</span>'),
        ("{{ v|recorded }}", False, "no"),
        ("{{ v|recorded }}", 0, "0"),
        ("{{ v|recorded }}", TODAY, "07 Mar 2027"),
    ],
)
def test_a_value_in_words(text, value, words):
    assert shown(text, v=value) == words


@pytest.mark.parametrize(
    ("born", "on", "words"),
    [
        (date(1942, 5, 14), TODAY, "84 years"),
        (date(1942, 3, 7), TODAY, "85 years"),
        (date(1942, 3, 8), TODAY, "84 years"),
        (date(2024, 2, 29), date(2025, 2, 28), "0 years"),
        (date(2024, 2, 29), date(2025, 3, 1), "1 year"),
        (None, TODAY, "age not recorded"),
    ],
)
def test_age_in_completed_years(born, on, words):
    assert shown("{{ born|age_on:on }}", born=born, on=on) == words


def test_a_fact_of_a_record_or_why_there_is_none():
    record = Measurement(
        depth_mm=Decimal("34.0"), posture="supine", absent={"width_mm": "declined"}
    )
    assert shown('{% fact r "depth_mm" "mm" %}', r=record) == "34.0\u00a0mm"
    assert shown('{% fact r "posture" %}', r=record) == "lying on the back"
    assert "declined" in shown('{% fact r "width_mm" "mm" %}', r=record)
    assert "not recorded" in shown('{% fact r "method" %}', r=record)


def test_lists_and_yes_no_in_words():
    record = Referral(infection_signs=["fever", "night_pain"], takes_steroids=False)
    assert shown('{% fact r "infection_signs" %}', r=record) == "fever, pain at rest or at night"
    assert shown('{% fact r "takes_steroids" %}', r=record) == "no"
    assert "not recorded" in shown('{% fact r "failure_criteria" %}', r=record)


def test_a_state_is_a_word_with_a_mark_before_a_tone():
    html = shown('{% state word "half" "attention" %}', word="<not yet>")
    assert "&lt;not yet&gt;" in html
    assert html.startswith('<span class="state state--attention"><svg')


def test_a_measurement_row_is_drawn_by_its_own_numbers():
    row = Measurement(anterior_height_mm=16, posterior_height_mm=26)
    html = shown('{% vertebra_glyph m level="L1" %}', m=row)
    assert "Anterior height 16 mm, middle height not measured" in html
    assert "Heights not measured." in shown('{% vertebra_glyph m level="L1" %}', m=None)


def test_a_marked_measurement_is_drawn_as_it_was_marked():
    corners = {"upper_anterior": [-19, -6], "upper_posterior": [17, -13]}
    shape = corners | {"lower_anterior": [-15, 9], "lower_posterior": [17, 13]}
    row = Measurement(anterior_height_mm=16, posterior_height_mm=26, outline=shape)
    typed = Measurement(anterior_height_mm=16, posterior_height_mm=26)
    drawn, other = (shown('{% vertebra_glyph m level="L1" %}', m=one) for one in (row, typed))
    assert "Shape as marked on the image." in drawn
    assert "as marked" not in other
    assert drawn.split("<path")[1:] != other.split("<path")[1:]


def test_the_clock_stands_beside_its_words():
    face = ClockFace(window(date(2027, 2, 9), "day", TODAY, window_days=42), 42)
    html = shown("{% clock face %}", face=face)
    assert "<b>day 26</b>, <span>16 days left</span>" in html


def test_the_strip_and_its_list_agree():
    strip = Strip.of([StripLevel(Body("L1"), "fracture, day 26", "/l1/"), StripLevel(Body("T8"))])
    html = shown("{% spine_strip s %}", s=strip)
    assert html.count('href="/l1/"') == 2
    assert '<a href="/l1/">L1, fracture, day 26</a>' in html
    assert "<span>T8, not measured</span>" in html


def test_a_table_has_no_empty_cell():
    columns = [Column("Visit"), Column("n", figures=True)]
    table = Table.of("Pain", columns, [("before", 0)])
    assert table.rows == ((Cell("before", False, True), Cell("0", True, False)),)
    with pytest.raises(ValueError, match="empty cell"):
        Table.of("Pain", columns, [("before", None)])
    with pytest.raises(ValueError, match="argument 2 is shorter"):
        Table.of("Pain", columns, [("before",)])


# --- the top line --------------------------------------------------------------


class Person(SimpleNamespace):
    """A signed-in person without a database."""

    is_authenticated = is_active = True
    site_id = 1
    site = "Harrowmere General Hospital"

    def get_role_display(self):
        return self.role

    def __str__(self):
        return "Imogen Hart"


def top_line(role, path="/"):
    request = SimpleNamespace(user=Person(role=role), path=path)
    return context.navigation(request)["nav"]


@pytest.fixture
def all_places(monkeypatch):
    """Every place has an address, whichever pages exist."""
    monkeypatch.setattr(context, "_address", lambda url_name: f"/{url_name}/")


@pytest.mark.parametrize(
    ("role", "places"),
    [
        ("consultant", ["Waiting", "Theatre", "Follow-up", "Audit", "Protocol", "Import"]),
        ("nurse", ["Waiting", "Theatre", "Follow-up", "Protocol", "Import"]),
        ("lead", ["Audit", "Protocol"]),
        ("administrator", ["Protocol", "Techniques", "Stock", "People"]),
        ("", []),
    ],
)
@pytest.mark.usefixtures("all_places")
def test_the_top_line_shows_the_places_of_a_role(role, places):
    assert [place.name for place in top_line(role).places] == places


@pytest.mark.usefixtures("all_places")
def test_the_place_one_is_in_is_marked():
    nav = top_line("consultant", "/theatre-sessions/4/")
    assert [place.name for place in nav.places if place.current] == ["Theatre"]


def test_nobody_signed_in_has_no_top_line():
    assert context.navigation(SimpleNamespace(user=AnonymousUser(), path="/"))["nav"] is None
    assert context.navigation(SimpleNamespace(path="/"))["nav"] is None
