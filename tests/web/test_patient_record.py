"""The patient record: what it shows, what it costs, the urgency and the assessment."""

import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import localdate

from planning.models import Assessment
from planning.rules.outcomes import NOTICE
from register.history import acting
from register.models import Task
from tests.factories import (
    make_decision,
    make_fracture,
    make_measurement,
    make_patient,
    make_procedure,
    make_reading,
    make_review,
    make_score,
    make_technique,
)
from tests.web.record import DAY, a_fracture, assess, get, read, record, text


@pytest.fixture
def fracture(people):
    return a_fracture(people)


# --- what is shown --------------------------------------------------------------


def test_the_page_says_whose_record_it_is_and_has_one_heading(people, fracture):
    read(people, fracture)
    response = get(people, record(fracture))

    html = response.content.decode()
    assert html.count("<h1") == 1
    assert 'class="identity"' in html
    words = text(response)
    assert "ARDEN, Maud" in words
    assert "L1, upper end plate" in words
    assert "first lumbar vertebra counted up from the sacrum" in words
    assert "day 26, 16 days left" in words


def test_the_spine_shows_each_level_once_as_drawing_and_as_list(people, fracture):
    today = localdate()
    with acting("test"):
        make_fracture(fracture.referral, level="T8", onset_on=today - 900 * DAY, state="old")
        make_fracture(fracture.referral, level="L1", onset_on=today - 950 * DAY, state="treated")

    html = get(people, record(fracture)).content.decode()

    assert "T8, old fracture" in html
    assert "L1, fracture, day 26, 2 in all" in html
    strip = html[html.index('class="strip"') : html.index("</nav>", html.index('class="strip"'))]
    assert strip.count("<li>") == 2
    assert "Other fractures" in html


def test_a_marked_body_is_drawn_as_marked_with_its_errors_and_its_scale(people, fracture):
    shape = {
        "upper_anterior": [-17, -7], "upper_posterior": [17, -13],
        "lower_posterior": [17, 13], "lower_anterior": [-16, 9],
    }  # fmt: skip
    with acting("test"):
        make_measurement(
            read(people, fracture), method="marked", calibration="known_length", outline=shape,
            vertebral_angle_deg=Decimal("18.4"),
            plus_minus={"anterior_height_mm": "3.3", "vertebral_angle_deg": "7.4"},
            width_mm=Decimal("42.0"), local_angle_deg=Decimal("21.0"),
            angle_end_plates="vertebral: upper L1 to lower L1; local: upper T12 to lower L1",
        )  # fmt: skip

    words = text(get(people, record(fracture)))

    assert "Shape as marked on the image: L1." in words
    assert words.count("16.4 ±3.3 mm") == 2
    assert "26.2 mm" in words
    assert "18.4 ±7.4° upper L1 to lower L1" in words
    assert "Local angle 21.0° upper T12 to lower L1" in words
    assert "known length on the image ± is the 95 % interval" in words
    # 16.4 / 26.2 = 62.6 %; 15.5 / 26.2 = 59.2 %; π/4 · 42 · 34 · 19.37 mm = 21.7 ml.
    assert "wedge 62.6 %, biconcavity 59.2 %" in words
    assert "21.7 ml" in words
    assert "42.0 mm wide, 34.0 mm deep, 19.4 mm high on average" in words


def test_an_image_without_scale_says_so_instead_of_a_height(people, fracture):
    lengths = ("anterior_height_mm", "middle_height_mm", "posterior_height_mm", "depth_mm")
    with acting("test"):
        make_measurement(
            read(people, fracture), method="marked", calibration="none",
            vertebral_angle_deg=Decimal("18.4"), **dict.fromkeys(lengths),
        )  # fmt: skip

    words = text(get(people, record(fracture)))

    assert words.count("no scale on the image") == len(lengths)
    assert "18.4°" in words


def test_another_fracture_can_be_chosen_by_its_address(people, fracture):
    with acting("test"):
        other = make_fracture(fracture.referral, level="T8", state="old")

    assert "<h1>T8" in get(people, f"{record(fracture)}?fracture={other.pk}").content.decode()
    assert "<h1>L1" in get(people, f"{record(fracture)}?fracture=0").content.decode()
    assert "<h1>L1" in get(people, f"{record(fracture)}?fracture=x").content.decode()


def test_heights_and_loss_stand_beside_the_drawing(people, fracture):
    own = read(people, fracture)
    with acting("test"):
        make_measurement(own)
        above = make_reading(
            fracture, people.users["consultant"], study=own.study, level="T12",
            end_plates="none", read_on=own.read_on,
        )  # fmt: skip
        above.fracture = None
        above.save()
        make_measurement(
            above, anterior_height_mm=Decimal("25.0"), middle_height_mm=Decimal("24.0"),
            posterior_height_mm=Decimal("26.0"),
        )  # fmt: skip

    words = text(get(people, record(fracture)))

    # 1 - 15.5 / 24.0 = 35.4 % in the middle, more than the 34.4 % in front.
    for said in ("16.4 mm", "15.5 mm", "26.2 mm", "34.0 mm", "35.4 %, middle (biconcave)",
                 "8.5 mm against T12, same images", "2 of 3", "lying on the back",
                 "16.4° estimated from heights and depth"):  # fmt: skip
        assert said in words


def test_reasons_carry_verdict_sentence_fact_day_and_kind_of_source(people, fracture):
    read(people, fracture)
    assess(people, fracture)

    words = text(get(people, record(fracture)))

    for said in ("Pain on movement", "met", "speaks for", "Oedema on MRI (band)",
                 "published and read", "common practice, no source: confirm locally",
                 "Rule NEUROLOGY-01, version 1", NOTICE):  # fmt: skip
        assert said in words


def test_cannot_assess_is_said_and_never_looks_like_met(people):
    fracture = a_fracture(people, neurology="")
    read(people, fracture)
    assess(people, fracture)

    response = get(people, record(fracture))
    html, words = response.content.decode(), text(response)

    assert "Cannot be assessed without neurological grade" in words
    rule = html[html.index('id="rule-neurology-01"') :]
    rule = rule[: rule.index("</li>")]
    assert "cannot assess" in rule
    assert "Not recorded: neurological grade." in rule
    assert not re.search(r"verdict[^>]*>met<", rule)
    assert "Needed for any answer: neurological grade" in words
    shown = {
        reason.result.rule_id: (group, reason)
        for group in response.context["chosen"].assessment.groups
        for reason in group.reasons
    }
    group, reason = shown["NEUROLOGY-01"]
    met = next(reason for _, reason in shown.values() if reason.verdict == "met")
    assert group.title == "Cannot be assessed"
    assert not group.is_quiet
    assert reason.mark not in {"full", met.mark}
    assert "neurological grade , from a neurological examination" in words


def test_an_outdated_assessment_says_so_in_words(people, fracture):
    read(people, fracture)
    assess(people, fracture)
    read(people, fracture, oedema="whole", read_on=localdate())

    words = text(get(people, record(fracture)))

    assert "No longer up to date. Made before the reading of" in words
    assert "Assess again." in words


def test_the_urgent_pathway_stands_on_the_record_too(people):
    fracture = a_fracture(people, infection_state="suspected")

    words = text(get(people, record(fracture)))

    assert "Urgent pathway Ring the spinal surgeon on call now." in words
    assert "infection of the spine suspected, recorded" in words


def test_the_timeline_holds_everything_newest_first(people, fracture):
    today, consultant = localdate(), people.users["consultant"]
    read(people, fracture)
    assess(people, fracture)
    with acting("test"):
        make_decision(fracture, consultant, decided_on=today, reason="Fresh and severe.")
        procedure = make_procedure(
            fracture, make_technique(people.site, name="Balloon tamping"), consultant,
            performed_on=today,
        )  # fmt: skip
        review = make_review(
            procedure, anchor_on=today, target_on=today, opens_on=today, closes_on=today,
            held_on=today, recorded_by=people.users["nurse"],
        )  # fmt: skip
        make_score(review, "pain_now", 3)
        make_score(review, "pain_moving", None)
        Task.objects.create(
            patient=fracture.patient, kind="test", title="Serum light chains",
            owner=consultant, due_on=today,
        )  # fmt: skip

    response = get(people, record(fracture))
    words = text(response)

    for said in ("Referral : emergency department", "Images : MRI, read at L1", "Assessment : L1:",
                 "Decision : L1: balloon tamping and cement", "Fresh and severe.",
                 "Procedure : L1: Balloon tamping", "2 to 4 weeks: pain now 3",
                 "pain on movement not known", "Serum light chains"):  # fmt: skip
        assert said in words, said
    days = [event.day for event in response.context["record"].events]
    assert days == sorted(days, reverse=True)


def test_a_patient_without_a_fracture_has_an_empty_state(people):
    with acting("test"):
        patient = make_patient(people.site)

    words = text(get(people, reverse("patient-record", args=[patient.pk])))

    assert "No fracture recorded" in words
    assert "Enter the referral" in words


def test_a_dead_patient_is_named_as_such(people, fracture):
    with acting("test"):
        fracture.patient.date_of_death = localdate()
        fracture.patient.save()

    assert "No contact is due and nothing is planned any more." in text(
        get(people, record(fracture))
    )


def test_a_long_record_costs_as_many_queries_as_a_short_one(people, fracture):
    client = people.client("consultant")

    def fill(days):
        for day in days:
            with acting("test"):
                make_measurement(read(people, fracture, read_on=localdate() - day * DAY))
                make_decision(fracture, people.users["consultant"], decided_on=localdate())
                make_fracture(fracture.referral, level=f"T{day}", state="old")
            assess(people, fracture)

    def queries():
        with CaptureQueriesContext(connection) as log:
            assert client.get(record(fracture)).status_code == 200
        return [query["sql"] for query in log.captured_queries]

    fill([1])
    few = queries()
    fill(range(2, 10))
    many = queries()

    assert len(many) == len(few), "\n".join(sorted(set(many) - set(few)))


# --- urgency ----------------------------------------------------------------------


def test_a_person_sets_the_urgency_and_it_keeps_the_name(people, fracture):
    client, referral = people.client("nurse"), fracture.referral
    url = reverse("urgency", args=[fracture.pk])

    response = client.post(url, {"urgency": "urgent", "version": referral.version}, follow=True)

    assert "Urgency of L1 set to urgent: within days." in text(response)
    referral.refresh_from_db()
    assert referral.urgency_set_by == people.users["nurse"]
    assert referral.urgency_set_on == localdate()
    stale = client.post(url, {"urgency": "routine", "version": 1}, follow=True)
    assert "Nothing was saved" in text(stale)
    assert "It now says: urgent" in text(stale)
    assert client.get(url).status_code == 405


def test_an_unknown_urgency_changes_nothing(people, fracture):
    people.client("nurse").post(
        reverse("urgency", args=[fracture.pk]), {"urgency": "never", "version": 1}
    )

    fracture.referral.refresh_from_db()
    assert fracture.referral.urgency == ""


# --- assessing ----------------------------------------------------------------------


@pytest.mark.parametrize(("role", "status"), [("consultant", 302), ("nurse", 302), ("lead", 403)])
def test_consultant_and_nurse_may_assess(people, fracture, role, status):
    response = people.client(role).post(reverse("assess", args=[fracture.pk]))

    assert response.status_code == status
    assert Assessment.objects.count() == (status == 302)


def test_assessing_is_never_done_by_opening_an_address(people, fracture):
    assert people.client("nurse").get(reverse("assess", args=[fracture.pk])).status_code == 405


def test_a_wrong_onset_is_explained_and_nothing_is_assessed(people):
    fracture = a_fracture(people)
    with acting("test"):
        fracture.onset_on = localdate() + DAY
        fracture.save()

    response = people.client("nurse").post(reverse("assess", args=[fracture.pk]), follow=True)

    assert "Correct the onset of the fracture, then assess." in text(response)
    assert not Assessment.objects.exists()


def test_a_stored_assessment_is_shown_as_it_was(people, fracture):
    read(people, fracture)
    old = assess(people, fracture)
    with acting("test"):
        fracture.referral.cancer_history = "active"
        fracture.referral.save()
    new = assess(people, fracture)

    words = text(get(people, reverse("assessment", args=[old.pk])))

    assert "Previous cancer no" in words
    assert "There is a newer assessment" in words
    assert new.answer_words in words
    assert old.ruleset_digest in words
    assert "No longer up to date" not in text(get(people, reverse("assessment", args=[new.pk])))


def test_a_treated_fracture_has_no_clock_and_no_urgency(people, fracture):
    assert "16 days left" in text(get(people, record(fracture)))
    with acting("test"):
        fracture.state = "treated"
        fracture.save()

    words = text(get(people, record(fracture)))

    assert "16 days left" not in words
    assert "Set urgency" not in words


def test_a_neighbour_is_drawn_as_what_it_is(people, fracture):
    with acting("test"):
        make_fracture(fracture.referral, level="T12", state="treated", onset_on=None,
                      onset_precision="")  # fmt: skip
        make_fracture(fracture.referral, level="L2", state="old", onset_on=None,
                      onset_precision="")  # fmt: skip

    closeup = get(people, record(fracture)).context["chosen"].closeup

    assert (closeup.above.state, closeup.body.state, closeup.below.state) == (
        "treated",
        "fracture",
        "old",
    )
