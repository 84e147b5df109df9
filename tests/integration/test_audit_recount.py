"""The key figures counted once more, in plain SQL from their definitions, without the build.

Nothing here uses the rows or the numbers of the audit but to compare with them.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import TestCase

from register.domain.protocol import shipped
from register.history import acting
from register.models import (
    Complication,
    Leak,
    Patient,
    Procedure,
    Review,
    Score,
    Site,
    TreatedLevel,
)
from reports.audits.fetch import fetch
from reports.audits.numbers.contacts import Fate
from reports.audits.quarter import build
from reports.audits.results import Numbers
from reports.audits.spec import Spec, quarter_days
from reports.demo import load
from reports.demo.scenario import make_scenario

TODAY = date(2027, 3, 7)
NOW = datetime(2027, 3, 7, 9, tzinfo=UTC)
PAST_PATIENTS = 45
QUARTERS = [(2025, 1), (2025, 2), (2025, 3), (2025, 4), (2026, 1), (2026, 2), (2026, 3), (2026, 4)]

DONE = """
WITH done AS (
  SELECT p.* FROM register_procedure p JOIN register_patient n ON n.id = p.patient_id
  WHERE n.site_id = %(site)s AND p.voided_at IS NULL AND n.voided_at IS NULL
    AND p.performed_on BETWEEN %(first)s AND %(last)s
), treated AS (
  SELECT l.*, f.onset_on, f.onset_precision, d.performed_on
  FROM register_treatedlevel l JOIN done d ON d.id = l.procedure_id
  JOIN register_fracture f ON f.id = l.fracture_id WHERE l.voided_at IS NULL
)
"""
ACTIVITY = (
    DONE
    + """
SELECT (SELECT count(*) FROM done),
       (SELECT count(DISTINCT patient_id) FROM done),
       (SELECT count(*) FROM treated),
       count(*) FILTER (WHERE performed_on - onset_on <= 42),
       count(*)
FROM treated WHERE onset_on IS NOT NULL AND onset_precision IN ('day', 'week')
"""
)
LEAKS = (
    DONE
    + """
, seen AS (
  SELECT t.id, t.leak_check,
         EXISTS (SELECT 1 FROM register_leak k WHERE k.level_id = t.id AND k.voided_at IS NULL)
           OR t.leak_check = 'leak' AS leaked
  FROM treated t
)
SELECT count(*) FILTER (WHERE leaked), count(*) FILTER (WHERE leaked OR leak_check = 'no_leak')
FROM seen
"""
)
HARM = (
    DONE
    + """
, asked AS (
  SELECT d.complication_check, EXISTS (
    SELECT 1 FROM register_complication c WHERE c.procedure_id = d.id AND c.voided_at IS NULL
      AND c.occurred_on <= %(cut_off)s) AS struck
  FROM done d
)
SELECT count(*) FILTER (WHERE struck), count(*) FILTER (WHERE struck OR complication_check <> '')
FROM asked
"""
)
# The window closed in the quarter; the contacts are those of the shipped protocol that are asked.
DUE = """
WITH due AS (
  SELECT r.*, n.date_of_death, n.follow_up_end, n.follow_up_ended_on, p.performed_on,
         CASE WHEN r.held_on <= %(cut_off)s THEN r.held_on END AS seen_on
  FROM register_review r JOIN register_procedure p ON p.id = r.procedure_id
  JOIN register_patient n ON n.id = p.patient_id
  WHERE n.site_id = %(site)s AND r.voided_at IS NULL AND p.voided_at IS NULL
    AND n.voided_at IS NULL AND p.performed_on <= %(cut_off)s
    AND r.timepoint = ANY(%(asked)s) AND r.closes_on BETWEEN %(first)s AND %(last)s
), told AS (
  SELECT *, CASE
    WHEN seen_on BETWEEN opens_on AND closes_on THEN 'seen'
    WHEN seen_on IS NOT NULL THEN 'outside'
    WHEN date_of_death <= %(cut_off)s THEN CASE WHEN date_of_death <= closes_on THEN 'dead' END
    WHEN follow_up_ended_on <= LEAST(closes_on, %(cut_off)s) THEN follow_up_end
  END AS fate FROM due
)
"""
FATES = (
    DUE
    + """
SELECT count(*),
       count(*) FILTER (WHERE fate = 'seen'), count(*) FILTER (WHERE fate = 'outside'),
       count(*) FILTER (WHERE fate = 'dead'), count(*) FILTER (WHERE fate = 'withdrawn'),
       count(*) FILTER (WHERE fate = 'moved'), count(*) FILTER (WHERE fate = 'unable'),
       count(*) FILTER (WHERE fate = 'lost'), count(*) FILTER (WHERE fate IS NULL)
FROM told
"""
)
PAIN = (
    DUE
    + """
, paired AS (
  SELECT later.value - earlier.value AS change
  FROM told t
  JOIN register_score later ON later.review_id = t.id AND later.voided_at IS NULL
    AND later.instrument = 'pain_moving' AND later.value IS NOT NULL
  JOIN register_review b ON b.procedure_id = t.procedure_id AND b.timepoint = 'before'
    AND b.voided_at IS NULL AND b.held_on <= t.performed_on
  JOIN register_score earlier ON earlier.review_id = b.id AND earlier.voided_at IS NULL
    AND earlier.instrument = 'pain_moving' AND earlier.value IS NOT NULL
  WHERE t.fate = 'seen' AND t.timepoint = 'weeks_2_4'
)
SELECT count(*), round(avg(change), 9), count(*) FILTER (WHERE change <= -2) FROM paired
"""
)
FATE_ORDER = (
    Fate.SEEN,
    Fate.OUTSIDE,
    Fate.DEAD,
    Fate.WITHDRAWN,
    Fate.MOVED,
    Fate.UNABLE,
    Fate.LOST,
    Fate.NOT_SEEN,
)


def counted(sql: str, values: dict[str, Any]) -> list[Any]:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return list(cursor.fetchone())


def by_sql(values: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """Name and value of each key figure, from the tables."""
    names = "procedures, patients, levels, treated by day 42, with a usable onset"
    yield from zip(names.split(", "), counted(ACTIVITY, values), strict=True)
    yield from zip(("levels leaked", "levels looked at"), counted(LEAKS, values), strict=True)
    yield from zip(("struck", "asked about"), counted(HARM, values), strict=True)
    fates = ("due", *(one.value for one in FATE_ORDER))
    yield from zip(fates, counted(FATES, values), strict=True)
    pairs, change, fallen = counted(PAIN, values)
    yield from [("pairs", pairs), ("fallen by 2", fallen)]
    yield "mean change", None if change is None else float(change)


def by_build(numbers: Numbers) -> Iterator[tuple[str, Any]]:
    """The same from the audit."""
    activity, leaks, harm = numbers.activity, numbers.leaks, numbers.harm
    yield from [
        ("procedures", activity.procedures),
        ("patients", activity.patients),
        ("levels", activity.levels),
        ("treated by day 42", activity.in_window.events),
        ("with a usable onset", activity.in_window.total),
        ("levels leaked", leaks.per_level.events),
        ("levels looked at", leaks.per_level.total),
        ("struck", harm.any.events),
        ("asked about", harm.any.total),
        ("due", numbers.all_contacts.due),
    ]
    yield from ((one.value, numbers.all_contacts.count(one)) for one in FATE_ORDER)
    (pain,) = (one for one in numbers.pain if one.timepoint == "weeks_2_4")
    yield from [("pairs", pain.pairs), ("fallen by 2", pain.by_points.events)]
    yield "mean change", None if pain.change.mean is None else round(pain.change.mean, 9)


def end_some_follow_ups() -> None:
    """Let half of the contacts that were not held have a reason, each kind in its turn."""
    ends = ("dead", "withdrawn", "moved", "unable", "lost")
    missed = Review.objects.live().filter(held_on=None, closes_on__lt=TODAY).exclude(procedure=None)
    for place, review in enumerate(missed.order_by("pk")[::2]):
        end, day = ends[place % 5], review.closes_on - timedelta(days=3 if place % 2 else 0)
        Patient.objects.filter(pk=review.patient_id).update(
            date_of_death=day if end == "dead" else None,
            follow_up_end=end,
            follow_up_ended_on=day,
        )
    held = Review.objects.live().exclude(held_on=None).exclude(procedure=None)
    for review in held.order_by("pk")[::9]:
        Review.objects.filter(pk=review.pk).update(held_on=review.closes_on + timedelta(days=2))


def void_some_rows() -> None:
    """Take every seventh row of each kind out."""
    for model in (Procedure, TreatedLevel, Leak, Complication, Review, Score):
        keys = list(model.objects.order_by("pk").values_list("pk", flat=True))[3::7]
        model.objects.filter(pk__in=keys).update(voided_at=NOW, void_reason="For this test")


@pytest.mark.django_db
class TestRecount(TestCase):
    """Eight quarters of a small invented department."""

    databases = {"default", "owner"}  # noqa: RUF012 - as TestCase declares it

    @classmethod
    def setUpTestData(cls):
        book = make_scenario(today=TODAY, past_patients=PAST_PATIENTS)
        load.load(book, say=lambda line: None)
        with acting("test"):
            end_some_follow_ups()
            void_some_rows()

    def test_sql_and_build_agree_on_every_key_figure(self):
        site = Site.objects.get()
        protocol = shipped(TODAY)
        compared, differing, totals = 0, [], dict.fromkeys(FATE_ORDER, 0)
        for year, number in QUARTERS:
            first, last = quarter_days(year, number)
            spec = Spec(site.name, first, last, TODAY, protocol)
            found = build(spec, fetch(site, spec)).results.quarter
            values = {
                "site": site.pk,
                "first": first,
                "last": last,
                "cut_off": TODAY,
                "asked": [point.code for point in spec.contacts],
            }
            mine, theirs = dict(by_sql(values)), dict(by_build(found))
            assert mine.keys() == theirs.keys()
            compared += len(mine)
            differing += [
                (year, number, name, mine[name], theirs[name])
                for name in mine
                if mine[name] != theirs[name]
            ]
            for one in FATE_ORDER:
                totals[one] += mine[one.value]
        print(f"{compared} figures, differing {len(differing)}; {totals}")
        assert differing == []
        assert compared == 8 * 21
        assert all(totals.values()), "every fate occurs, so that each was compared"
