"""From the register to the rows of an audit: everything in its place, and nothing that names."""

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from register.domain.protocol import shipped
from register.history import acting
from register.models import Measurement, Procedure, Review, Score, TheatreLogEntry
from reports.audits.fetch import fetch
from reports.audits.quarter import build
from reports.audits.rows import Rows, rows_to_json
from reports.audits.spec import Spec
from tests.factories import make_measurement
from tests.integration.audit_rows import (
    AFTER,
    CUT_OFF,
    DONE,
    FIRST,
    LAST,
    make_department,
    void,
)

pytestmark = pytest.mark.django_db
SPEC = Spec("Harrowmere General Hospital", FIRST, LAST, CUT_OFF, shipped(LAST))


@pytest.fixture
def ours():
    with acting("test"):
        yield make_department()


def the_only(rows):
    (row,) = rows
    return row


def test_each_kind_of_row_arrives_whole(ours):
    patient = ours.patient(sex="male", date_of_birth=date(1950, 11, 11))
    procedure = ours.procedure(patient, complication_check="some")
    ours.leak(procedure, consequence="symptoms")
    ours.complication(procedure)
    ours.scored(procedure, "weeks_2_4", 21, 3)
    ours.scored(procedure, "months_3", 91, None)
    ours.heights(procedure, DONE - timedelta(days=5), posture="standing")

    rows = fetch(ours.site, SPEC)

    done = the_only(rows.procedures)
    assert (done.age_years, done.sex, done.route, done.signed) == (75, "male", "balloon", False)
    assert (done.performed_on, done.complication_check, done.end) == (DONE, "some", "")
    level = the_only(rows.levels)
    assert (level.procedure, level.level, level.cause) == (done.key, "L1", "osteoporotic")
    assert (level.fracture_age_days, level.onset_precision) == (30, "day")
    assert (level.leak_check, level.leak_checked_on) == ("leak", "ct")
    leak = the_only(rows.leaks)
    assert (leak.level, leak.route, leak.place) == (level.key, "disc", "upper_disc")
    assert (leak.seen_on, leak.consequence) == ("ct", "symptoms")
    harm = the_only(rows.complications)
    assert (harm.procedure, harm.kind, harm.grade) == (done.key, "infection", "II")
    contacts = {row.timepoint: row for row in rows.contacts}
    assert contacts["weeks_2_4"].held_on == DONE + timedelta(days=21)
    assert contacts["weeks_2_4"].closes_on == DONE + timedelta(days=28)
    assert contacts["months_3"].held_on is None, "held after the cut-off"
    score = the_only(rows.scores)
    assert (score.contact, score.instrument) == (contacts["weeks_2_4"].key, "pain_moving")
    assert (score.value, score.reason) == (Decimal("3.0"), "")
    height = the_only(rows.heights)
    assert (height.level, height.anterior_mm) == (level.key, Decimal("16.4"))
    assert (height.posture, height.calibration) == ("standing", "calibrated")


@pytest.mark.parametrize(("days", "late"), [(28, False), (29, True)])
def test_a_contact_closed_before_its_list_was_entered_says_so(ours, days, late):
    """Its window closes on day 28."""
    ours.contact(ours.procedure(), "weeks_2_4", 21)
    Procedure.objects.update(state="earlier", operator=None, operator_words="R. Inkpen")
    entered = datetime.combine(DONE + timedelta(days=days), time(12), UTC)
    Review.objects.update(created_at=entered)
    assert the_only(fetch(ours.site, SPEC).contacts).entered_late is late


def test_a_score_without_a_value_keeps_its_reason(ours):
    ours.scored(ours.procedure(), "weeks_2_4", 21, None)
    score = the_only(fetch(ours.site, SPEC).scores)
    assert (score.value, score.reason) == (None, "not_known")


def test_what_was_voided_is_left_out(ours):
    kept = ours.procedure()
    leak, harm = ours.leak(kept), ours.complication(kept)
    ours.scored(kept, "weeks_2_4", 21, 3)
    measured = ours.heights(kept, DONE)
    other = ours.heights(kept, DONE + timedelta(days=1))
    lost_contact = ours.contact(kept, "months_3", 91)
    for row in (leak, harm, measured, other.reading, lost_contact, Score.objects.get()):
        void(row)
    void(ours.procedure())
    patient = ours.patient()
    ours.procedure(patient)
    void(patient)

    rows = fetch(ours.site, SPEC)

    assert len(rows.procedures) == len(rows.levels) == 1
    assert [row.timepoint for row in rows.contacts] == ["weeks_2_4"]
    assert (rows.leaks, rows.complications, rows.scores, rows.heights) == ((), (), (), ())
    void(kept.levels.get())
    assert fetch(ours.site, SPEC).levels == ()


def test_a_voided_study_takes_its_heights_along(ours):
    measured = ours.heights(ours.procedure(), DONE)
    assert fetch(ours.site, SPEC).heights
    void(measured.reading.study)
    assert fetch(ours.site, SPEC).heights == ()


def test_nothing_after_the_cut_off_is_read(ours):
    dead = ours.patient(date_of_death=AFTER, follow_up_end="dead", follow_up_ended_on=AFTER)
    procedure = ours.procedure(dead)
    ours.complication(procedure, occurred_on=AFTER)
    ours.heights(procedure, AFTER)
    days = (AFTER - DONE).days
    ours.scored(procedure, "months_3", days, 2)
    ours.procedure(performed_on=AFTER)

    rows = fetch(ours.site, SPEC)
    assert the_only(rows.procedures).end == ""
    assert the_only(rows.contacts).held_on is None
    assert (rows.complications, rows.scores, rows.heights) == ((), (), ())

    later = Spec(SPEC.site, FIRST, LAST, AFTER, SPEC.protocol)
    rows = fetch(ours.site, later)
    assert len(rows.procedures) == 2
    assert (rows.procedures[0].end, rows.procedures[0].ended_on) == ("dead", AFTER)
    assert the_only(rows.contacts).held_on == AFTER
    assert [len(kind) for kind in (rows.complications, rows.scores, rows.heights)] == [1, 1, 1]


def test_a_death_counts_although_the_patient_had_withdrawn(ours):
    withdrew, died = DONE + timedelta(days=5), DONE + timedelta(days=9)
    ours.procedure(
        ours.patient(date_of_death=died, follow_up_end="withdrawn", follow_up_ended_on=withdrew)
    )
    row = the_only(fetch(ours.site, SPEC).procedures)
    assert (row.end, row.ended_on) == ("dead", died)


def test_another_site_never_comes_in(ours):
    theirs = make_department()
    procedure = theirs.procedure()
    theirs.leak(procedure)
    theirs.scored(procedure, "weeks_2_4", 21, 3)
    assert fetch(ours.site, SPEC) == Rows()
    assert len(fetch(theirs.site, SPEC).procedures) == 1


def test_nothing_in_the_rows_tells_who_it_was(ours):
    patient = ours.patient(
        family_name="Quillfeather",
        given_name="Philippa",
        address="4 Invented Row",
        practitioner_name="Dr Imaginary",
        date_of_birth=date(1939, 2, 3),
    )
    procedure = ours.procedure(patient, note="Asked after Quillfeather")
    ours.scored(procedure, "weeks_2_4", 21, 3)
    ours.leak(procedure, note="Philippa was told")
    ours.heights(procedure, DONE)
    text = rows_to_json(fetch(ours.site, SPEC))
    telling = (
        "Quillfeather", "Philippa", patient.nhs_number, patient.hospital_number, "1939",
        "Invented Row", "Imaginary", ours.operator.username, ours.operator.last_name,
    )  # fmt: skip
    assert [word for word in telling if word.lower() in text.lower()] == []
    assert '"N00001"' in text


def test_keys_are_those_of_the_set_and_not_of_the_database(ours):
    """The same register gives the same keys, whatever its row numbers are."""
    first = ours.procedure(performed_on=DONE)
    second = ours.procedure(first.patient, performed_on=DONE - timedelta(days=3), level="T12")
    rows = fetch(ours.site, SPEC)
    assert [(row.key, row.performed_on) for row in rows.procedures] == [
        ("P00001", second.performed_on),
        ("P00002", DONE),
    ]
    assert {row.patient for row in rows.procedures} == {"N00001"}


@pytest.mark.parametrize(
    ("precision", "exact", "vague"),
    [("day", 1, 0), ("week", 1, 0), ("month", 0, 1), ("year", 0, 1)],
)
def test_a_vague_onset_is_carried_and_never_held_against_the_window(ours, precision, exact, vague):
    ours.procedure(onset_precision=precision)
    rows = fetch(ours.site, SPEC)
    level = the_only(rows.levels)
    assert (level.fracture_age_days, level.onset_precision) == (30, precision)
    found = build(SPEC, rows).results.quarter.activity
    assert (found.in_window.total, found.onset_vague, found.onset_missing) == (exact, vague, 0)


def test_an_onset_that_is_not_recorded_is_missing(ours):
    ours.procedure(onset_on=None, onset_precision="")
    rows = fetch(ours.site, SPEC)
    assert the_only(rows.levels).fracture_age_days is None
    found = build(SPEC, rows).results.quarter.activity
    assert (found.in_window.total, found.onset_vague, found.onset_missing) == (0, 0, 1)


@pytest.mark.parametrize(
    ("modality", "own", "absent", "expected"),
    [
        ("mri", "sitting", {}, "sitting"),
        ("mri", "", {}, "supine"),
        ("ct", "", {}, "supine"),
        ("film", "", {}, ""),
        ("fluoroscopy", "", {}, ""),
        ("mri", "", {"posture": "not_known"}, ""),
    ],
)
def test_the_posture_is_that_of_the_heights(ours, modality, own, absent, expected):
    """Films of one examination may be taken standing and lying; a CT has one posture."""
    procedure = ours.procedure()
    ours.heights(
        procedure, DONE, modality=modality, study_posture="supine", posture=own, absent=absent
    )
    assert the_only(fetch(ours.site, SPEC).heights).posture == expected


def test_heights_of_another_level_are_not_those_of_the_fracture(ours):
    measured = ours.heights(ours.procedure(level="L1"), DONE)
    reading = measured.reading
    reading.pk, reading.level, reading._state.adding = None, "L2", True
    reading.save()
    make_measurement(reading)
    assert Measurement.objects.count() == 2
    assert len(fetch(ours.site, SPEC).heights) == 1


def test_sixty_procedures_cost_the_queries_of_three(ours):
    def add(number: int) -> None:
        for _ in range(number):
            procedure = ours.procedure()
            ours.leak(procedure)
            ours.complication(procedure)
            ours.scored(procedure, "weeks_2_4", 21, 3)
            ours.heights(procedure, DONE)

    def cost() -> int:
        with CaptureQueriesContext(connection) as log:
            fetch(ours.site, SPEC)
        return len(log.captured_queries)

    add(3)
    few = cost()
    add(57)
    assert cost() == few == 8


def test_a_line_of_the_theatre_log_is_found_none_of_ours_or_open(ours):
    done = ours.procedure()
    kinds = [
        {"procedure": done},
        {"not_ours_because": "Hip replacement", "settled_by": done.operator},
        {},
        {"performed_on": AFTER},
    ]
    for number, fields in enumerate(kinds):
        given = {"site": ours.site, "performed_on": DONE, "hospital_number": f"X{number}"}
        TheatreLogEntry.objects.create(**given | fields)
    rows = fetch(ours.site, SPEC)
    assert [line.became for line in rows.log_lines] == ["found", "not_ours", "open"]
    assert len({line.operation for line in rows.log_lines}) == 3
    assert not {"X0", "X1", "X2"} & set(rows_to_json(rows).split('"'))
    void(done)
    assert fetch(ours.site, SPEC).log_lines[0].became == "open"
