"""Plans, lists and the operation record through their pages."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from planning.models import ListEntry, PlannedApproach, ProcedurePlan
from register.history import acting
from register.models import CementUse, ImplantUse, Leak, Procedure
from tests.factories import (
    make_decision,
    make_entry,
    make_fracture,
    make_patient,
    make_plan,
    make_procedure,
    make_referral,
    make_session,
    make_technique,
)
from tests.web.people import People, make_people

# GTIN 05012345678900 has a right check digit (weights 3 and 1; GS1 General Specifications).
SCAN = "(01)05012345678900(17)300101(10)LOT7(21)S100"


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


@pytest.fixture
def decided(people):
    """A fracture of L1 that was decided for a procedure, and a technique."""
    with acting("test"):
        fracture = make_fracture(make_referral(make_patient(people.site)))
        decision = make_decision(fracture, people.users["consultant"])
        return decision, make_technique(people.site)


@pytest.fixture
def opened(people, decided):
    """An open operation record of L1."""
    decision, technique = decided
    with acting("test"):
        return make_procedure(decision.fracture, technique, people.users["consultant"])


def approved_entry(people, decided, session=None, place=1):
    decision, technique = decided
    with acting("test"):
        plan = make_plan(decision, technique, anaesthesia="sedation")
        plan.state, plan.approved_by = "approved", people.users["consultant"]
        plan.approved_at = plan.created_at
        plan.save()
        return make_entry(session or make_session(people.site), plan, place=place)


def test_a_plan_is_drafted_completed_and_approved(people, decided):
    decision, technique = decided
    consultant = people.client("consultant")
    answer = consultant.post(
        reverse("plan-new", args=[decision.fracture.patient_id]),
        {"fractures": [decision.fracture_id], "technique": technique.pk},
    )
    plan = ProcedurePlan.objects.get()
    assert answer.url == reverse("plan", args=[plan.pk])
    level = plan.levels.get()

    consultant.post(reverse("plan-approve", args=[plan.pk]), {"version": plan.version})
    plan.refresh_from_db()
    assert plan.state == "draft", "a plan without side and anaesthesia cannot be approved"

    consultant.post(
        reverse("planned-level", args=[level.pk]),
        {f"level-{level.pk}-side": "both", f"level-{level.pk}-version": level.version},
    )
    consultant.post(
        reverse("plan", args=[plan.pk]),
        {
            "part": "plan",
            "version": plan.version,
            "technique": technique.pk,
            "anaesthesia": "sedation",
            "expected_minutes": "45",
        },
    )
    plan.refresh_from_db()
    consultant.post(reverse("plan-approve", args=[plan.pk]), {"version": plan.version})
    plan.refresh_from_db()
    assert (plan.state, plan.approved_by) == ("approved", people.users["consultant"])


def test_a_nurse_cannot_approve(people, decided):
    decision, technique = decided
    with acting("test"):
        plan = make_plan(decision, technique, anaesthesia="local")
    answer = people.client("nurse").post(
        reverse("plan-approve", args=[plan.pk]), {"version": plan.version}
    )
    assert answer.status_code == 403


def test_a_plan_without_a_decision_is_refused(people):
    with acting("test"):
        fracture = make_fracture(make_referral(make_patient(people.site)))
    page = people.client("consultant").get(reverse("plan-new", args=[fracture.patient_id]))
    assert "No fracture of this patient is decided" in page.text


def test_an_approved_plan_is_listed_moved_and_taken_off(people, decided):
    first = approved_entry(people, decided)
    with acting("test"):
        fracture = make_fracture(make_referral(make_patient(people.site)), level="T12")
        other = (make_decision(fracture, people.users["consultant"]), decided[1])
    second = approved_entry(people, other, session=first.session, place=2)
    consultant = people.client("consultant")
    consultant.post(reverse("entry-move", args=[second.pk, "up"]))
    first.refresh_from_db()
    second.refresh_from_db()
    assert (second.place, first.place) == (1, 2)

    page = consultant.get(reverse("theatre-session", args=[first.session_id])).text
    assert page.index(fracture.patient.family_name.upper()) < page.index(
        first.plan.patient.family_name.upper()
    )
    answer = consultant.post(reverse("entry-cancel", args=[first.pk]), {"reason": ""})
    assert answer.status_code == 422
    consultant.post(reverse("entry-cancel", args=[first.pk]), {"reason": "Fever this morning"})
    first.refresh_from_db()
    assert (first.state, first.cancelled_reason) == ("cancelled", "Fever this morning")


def test_the_printed_list_names_identity_level_and_side_in_words(people, decided):
    entry = approved_entry(people, decided)
    with acting("test"):
        PlannedApproach.objects.create(
            level=entry.plan.levels.get(), side="left", medial_angle_deg="18.5",
            cranial_angle_deg="-5.0", depth_mm="52.0",
        )  # fmt: skip
    answer = people.client("nurse").get(reverse("theatre-list-pdf", args=[entry.session_id]))
    assert answer["Content-Type"] == "application/pdf"
    assert entry.plan.patient.family_name not in answer["Content-Disposition"]
    from io import BytesIO

    from pypdf import PdfReader

    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages)
    assert entry.plan.patient.family_name.upper() in text
    assert "first lumbar vertebra" in text
    assert "LEFT AND RIGHT" in text
    words = " ".join(text.split())
    assert "L1: left needle 18.5° inwards, 5.0° to the feet, 52.0 mm deep" in words
    assert "planning aid, not guidance" in words
    assert "cement pack" in text


def test_the_record_is_opened_from_the_list_and_signed(people, decided):
    entry = approved_entry(people, decided)
    consultant = people.client("consultant")
    consultant.post(reverse("procedure-new", args=[entry.pk]))
    procedure = Procedure.objects.get()
    entry.refresh_from_db()
    assert (entry.procedure, entry.state) == (procedure, "done")
    level = procedure.levels.get()
    sign = reverse("procedure-sign", args=[procedure.pk])

    consultant.post(sign, {"version": procedure.version})
    procedure.refresh_from_db()
    assert procedure.state == "open", "gaps keep the record open"

    consultant.post(
        reverse("cement-new", args=[level.pk]),
        {f"cement-{level.pk}-side": "left", f"cement-{level.pk}-volume_ml": "2.5"},
    )
    consultant.post(
        reverse("leak-new", args=[level.pk]),
        {
            f"leak-{level.pk}-route": "disc",
            f"leak-{level.pk}-place": "upper_disc",
            f"leak-{level.pk}-seen_on": "fluoroscopy",
        },
    )
    consultant.post(
        reverse("procedure", args=[procedure.pk]),
        {
            "version": procedure.version,
            "operator": people.users["consultant"].pk,
            "anaesthesia": "sedation",
            "level_check": "counted_sacrum",
            "complication_check": "none",
        },
    )
    procedure.refresh_from_db()
    answer = consultant.post(sign, {"version": procedure.version}, follow=True)
    procedure.refresh_from_db()
    level.refresh_from_db()
    assert procedure.state == "signed", answer.text
    assert level.leak_check == "leak"
    assert level.fracture.state == "treated"
    assert procedure.reviews.exists()


def test_a_scan_is_shown_before_it_is_kept(people, opened):
    level = opened.levels.get()
    consultant = people.client("consultant")
    url = reverse("implant-new", args=[level.pk])
    typed = {
        f"implant-{level.pk}-raw_scan": SCAN,
        f"implant-{level.pk}-side": "left",
        f"implant-{level.pk}-fate": "implanted",
    }
    page = consultant.post(url, typed)
    assert "LOT7" in page.text
    assert not ImplantUse.objects.exists()
    consultant.post(url, typed | {"confirmed": "yes"})
    kept = ImplantUse.objects.get()
    assert (kept.gtin, kept.lot, kept.serial) == ("05012345678900", "LOT7", "S100")
    assert kept.raw_scan == SCAN


def test_a_wrong_check_digit_is_refused_with_the_typing_kept(people, opened):
    level = opened.levels.get()
    wrong = SCAN.replace("678900", "678901")
    page = people.client("consultant").post(
        reverse("implant-new", args=[level.pk]),
        {
            f"implant-{level.pk}-raw_scan": wrong,
            f"implant-{level.pk}-fate": "implanted",
            "confirmed": "yes",
        },
    )
    assert page.status_code == 422
    assert wrong in page.text
    assert not ImplantUse.objects.exists()


def test_an_expired_implant_cannot_be_chosen(people, opened):
    level = opened.levels.get()
    page = people.client("consultant").post(
        reverse("implant-new", args=[level.pk]),
        {
            f"implant-{level.pk}-raw_scan": SCAN.replace("300101", "200101"),
            f"implant-{level.pk}-fate": "implanted",
            "confirmed": "yes",
        },
    )
    assert "expired on 01 Jan 2020" in page.text
    assert not ImplantUse.objects.exists()


def test_cement_needs_a_volume_or_a_reason(people, opened):
    level = opened.levels.get()
    consultant = people.client("consultant")
    url = reverse("cement-new", args=[level.pk])
    empty = consultant.post(url, {f"cement-{level.pk}-side": "left"})
    assert empty.status_code == 422
    consultant.post(
        url,
        {f"cement-{level.pk}-side": "left", f"cement-{level.pk}-volume_ml_absent": "not_known"},
    )
    kept = CementUse.objects.get()
    assert (kept.volume_ml, kept.absent) == (None, {"volume_ml": "not_known"})


def test_an_entry_is_taken_back_with_a_reason_and_stays(people, opened):
    level = opened.levels.get()
    with acting("test"):
        leak = Leak.objects.create(level=level, seen_on="ct", route="disc")
    consultant = people.client("consultant")
    url = reverse("part-void", args=["leak", leak.pk])
    assert consultant.post(url, {"reason": ""}).status_code == 422
    consultant.post(url, {"reason": "Wrong patient"})
    leak.refresh_from_db()
    assert leak.void_reason == "Wrong patient"
    assert not level.leaks.live().exists()


def test_a_signed_record_changes_only_with_a_reason(people, opened):
    with acting("test"):
        opened.state, opened.signed_by = "signed", people.users["consultant"]
        opened.signed_at = opened.created_at
        opened.save()
    consultant = people.client("consultant")
    typed = {
        "version": opened.version,
        "operator": people.users["consultant"].pk,
        "antibiotic": "cefuroxime 1.5 g",
    }
    url = reverse("procedure", args=[opened.pk])
    refused = consultant.post(url, typed)
    assert "Say why it is changed" in refused.text
    consultant.post(url, typed | {"change_reason": "Left out on the day"})
    opened.refresh_from_db()
    assert opened.antibiotic == "cefuroxime 1.5 g"


def test_the_second_of_two_editors_is_told_and_keeps_typing(people, opened):
    url = reverse("procedure", args=[opened.pk])
    typed = {"version": opened.version, "operator": people.users["consultant"].pk}
    people.client("consultant").post(url, typed | {"antibiotic": "first"})
    page = people.client("nurse").post(url, typed | {"antibiotic": "second"})
    opened.refresh_from_db()
    assert opened.antibiotic == "first"
    assert page.status_code == 422
    assert "second" in page.text


def test_records_of_another_site_are_not_found(people, opened):
    with acting("test"):
        stranger = make_people()
    for name in ("procedure", "plan"):
        assert stranger.client("consultant").get(reverse(name, args=[opened.pk])).status_code == 404


@pytest.mark.parametrize("role", ["lead", "administrator"])
def test_theatre_pages_are_closed_to(role, people, opened):
    for url in (reverse("theatre-sessions"), reverse("procedure", args=[opened.pk])):
        assert people.client(role).get(url).status_code == 403


def test_the_list_of_sessions_costs_the_same_for_3_rows_and_for_300(people):
    def cost() -> list[str]:
        with CaptureQueriesContext(connection) as log:
            assert consultant.get(reverse("theatre-sessions")).status_code == 200
        return [query["sql"] for query in log.captured_queries]

    consultant = people.client("consultant")
    from django.utils.timezone import localdate

    with acting("test"):
        for day in range(3):
            make_session(people.site, held_on=localdate() + timedelta(days=day))
    few = cost()
    with acting("test"):
        for day in range(3, 300):
            make_session(people.site, held_on=localdate() + timedelta(days=day))
    many = cost()
    assert len(many) == len(few), "\n".join(sorted(set(many) - set(few)))


def test_a_list_costs_the_same_for_1_case_and_for_20(people, decided):
    entry = approved_entry(people, decided)
    url = reverse("theatre-session", args=[entry.session_id])
    consultant = people.client("consultant")
    with CaptureQueriesContext(connection) as few:
        consultant.get(url)
    for place in range(2, 21):
        with acting("test"):
            fracture = make_fracture(make_referral(make_patient(people.site)))
            plan = make_plan(make_decision(fracture, people.users["consultant"]), decided[1])
            make_entry(entry.session, plan, place=place)
    with CaptureQueriesContext(connection) as many:
        consultant.get(url)
    assert len(many) == len(few)
    assert ListEntry.objects.count() == 20


def test_a_plan_is_not_approved_when_the_decision_was_changed_since(people, decided):
    decision, technique = decided
    with acting("test"):
        plan = make_plan(decision, technique, anaesthesia="local")
        make_decision(
            decision.fracture, people.users["consultant"], route="conservative", reason="Settling."
        )
    consultant = people.client("consultant")
    consultant.post(reverse("plan-approve", args=[plan.pk]), {"version": plan.version})
    plan.refresh_from_db()
    assert plan.state == "draft"
    assert "it was changed" in consultant.get(reverse("plan", args=[plan.pk])).text


def test_a_fracture_cannot_be_treated_before_it_began(people, decided):
    decision, technique = decided
    from django.core.exceptions import ValidationError

    from register.services.procedures import procedure_open

    with pytest.raises(ValidationError, match=r"L1 began .*, after this procedure"):
        procedure_open(
            patient=decision.fracture.patient,
            technique=technique,
            performed_on=decision.fracture.onset_on - timedelta(days=1),
            operator=people.users["consultant"],
            levels=[{"fracture": decision.fracture}],
            user=people.users["consultant"],
        )
    assert not Procedure.objects.exists()


def test_a_leak_that_was_seen_is_described_before_signing(people, opened):
    level = opened.levels.get()
    with acting("test"):
        level.leak_check, level.leak_checked_on = "leak", "film"
        level.save()
    page = people.client("consultant").get(reverse("procedure", args=[opened.pk])).text
    assert "the leak of L1: by which route, to which place" in page
    with acting("test"):
        Leak.objects.create(level=level, seen_on="film", route="disc")
    page = people.client("consultant").get(reverse("procedure", args=[opened.pk])).text
    assert "the leak of L1" not in page
