"""The referral in one sitting, one fracture, blood tests and bone density."""

import re
from datetime import date
from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse

from register.history import acting
from register.history.reading import changes_of_row
from register.models import Fracture, Referral, ReferralDrug
from tests.clock import stop_clock
from tests.factories import TODAY, make_fracture, make_patient, make_referral
from tests.web.people import People, make_people


@pytest.fixture
def people(db, monkeypatch) -> People:
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def nurse(people):
    return people.client("nurse")


@pytest.fixture
def patient(people):
    with acting("test"):
        return make_patient(people.site, family_name="Ashbeck", given_name="Maud")


@pytest.fixture
def address(patient):
    return reverse("referral-new", args=[patient.pk])


YES = {"takes_antithrombotics": "yes"}


def boxes(name: str, day: str, month: str, year: str) -> dict[str, str]:
    return {f"{name}_day": day, f"{name}_month": month, f"{name}_year": year}


def typed(**changes: str) -> dict[str, str]:
    """A filled form of a new referral of L1."""
    return {
        **boxes("referred_on", "4", "Mar", "2027"),
        **boxes("onset_on", "10", "2", "2027"),
        "source": "emergency",
        "pain_moving": "8",
        "neurology": "N0",
        "takes_antithrombotics": "no",
        "fractures-TOTAL_FORMS": "2",
        "fractures-INITIAL_FORMS": "0",
        "fractures-0-level": "L1",
        "fractures-0-tender": "yes",
        "drugs-TOTAL_FORMS": "2",
        "drugs-INITIAL_FORMS": "0",
    } | changes


def drug(place: int, name: str, **more: str) -> dict[str, str]:
    return {f"drugs-{place}-drug": name} | {f"drugs-{place}-{k}": v for k, v in more.items()}


# --- entering -------------------------------------------------------------------------------


def test_a_referral_is_saved_with_its_level_and_its_onset(nurse, patient, address):
    answer = nurse.post(address, typed())
    assert answer.url == reverse("patient-record", args=[patient.pk])
    referral = patient.referrals.get()
    assert (referral.pain_moving, referral.pain_rest, referral.absent) == (8, None, {})
    fracture = referral.fractures.get()
    assert (fracture.level, fracture.tender, fracture.matches_imaging) == ("L1", True, None)
    assert (fracture.onset_on, fracture.onset_precision) == (date(2027, 2, 10), "day")
    assert fracture.state == "waiting"


def test_a_value_a_reason_zero_and_nothing_are_four_things(nurse, patient, address):
    nurse.post(
        address,
        typed(
            pain_rest="0",
            pain_moving="",
            pain_moving_absent="declined",
            liver_disease="no",
            takes_steroids="absent:not_known",
            infection_signs_absent="not_done",
        ),
    )
    referral = patient.referrals.get()
    assert referral.pain_rest == 0
    assert referral.pain_moving is None
    assert referral.liver_disease is False
    assert referral.takes_steroids is None
    assert referral.can_lie_prone is None
    assert referral.absent == {
        "pain_moving": "declined",
        "takes_steroids": "not_known",
        "infection_signs": "not_done",
    }


@pytest.mark.parametrize(
    ("day", "month", "stored"),
    [("", "2", (date(2027, 2, 1), "month")), ("", "", (date(2027, 1, 1), "year"))],
)
def test_an_uncertain_onset_stays_uncertain_and_comes_back_as_typed(
    nurse, patient, address, day, month, stored
):
    nurse.post(address, typed(**boxes("onset_on", day, month, "2027")))
    referral = patient.referrals.get()
    assert (referral.onset_on, referral.onset_precision) == stored
    assert (referral.fractures.get().onset_on, referral.fractures.get().onset_precision) == stored
    page = nurse.get(reverse("referral-edit", args=[referral.pk]))
    shown = [
        widget["value"]
        for widget in page.context["form"]["onset_on"].subwidgets[0].data["subwidgets"]
    ]
    assert shown[:3] == [None, "Feb" if month else None, "2027"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pain_moving": "7,5"}, "write a point instead of the comma"),
        ({"pain_moving": "11"}, "must be from 0 to 10"),
        ({"pain_moving": "1e1"}, "figures only"),
        ({"pain_moving": "8", "pain_moving_absent": "not_known"}, "not both"),
        ({"weight_kg": "500"}, "must be from 20 to 300 kg"),
        (boxes("referred_on", "4", "Mar", "2028"), "on or before 07 Mar 2027 (today)"),
        (boxes("onset_on", "5", "Mar", "2027"), "(the date of the referral)"),
        ({"fractures-0-level": "", "fractures-0-tender": ""}, "Give at least one level"),
        ({"fractures-1-level": "L1"}, "A fracture of this level is already waiting."),
        ({"fractures-1-tender": "yes"}, "Level: fill it in, or empty the line."),
        (drug(0, "aspirin"), "A drug is listed, so the answer here must be yes."),
        ({**drug(0, "aspirin"), **drug(1, "aspirin"), **YES}, "already on the list"),
        ({"failure_criteria": ["none", "not_walking"]}, "cannot stand beside"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_keeps_what_was_typed(nurse, address, changes, words):
    answer = nurse.post(address, typed(referrer_name="Dr Fellgate", **changes))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert words in text
    assert 'value="Dr Fellgate"' in text
    assert Referral.objects.count() == Fracture.objects.count() == 0


def test_an_unlikely_weight_is_asked_about_once_and_its_reason_is_kept(nurse, patient, address):
    answer = nurse.post(address, typed(weight_kg="29.5"))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "29.5 kg is unusual" in text
    assert 'value="29.5"' in text
    nurse.post(address, typed(weight_kg="29.5", weight_kg_unlikely="weighed twice"))
    referral = patient.referrals.get()
    assert referral.weight_kg == Decimal("29.5")
    assert referral.unusual == {"weight_kg": "weighed twice"}
    assert referral.note == ""
    edit = reverse("referral-edit", args=[referral.pk])
    changes = {"version": "1", "weight_kg": "29.5", "note": referral.note, "fractures-0-level": ""}
    assert nurse.post(edit, typed(**changes | {"fractures-0-tender": ""})).status_code == 302


def test_drugs_are_saved_with_what_they_are_taken_for(nurse, patient, address):
    nurse.post(
        address,
        typed(
            takes_antithrombotics="yes",
            **drug(0, "apixaban", indication="atrial_fibrillation", dose="5 mg twice a day"),
            **drug(1, "aspirin", indication="absent:not_known", last_taken_on_absent="not_known"),
        ),
    )
    first, second = ReferralDrug.objects.order_by("pk")
    assert (first.indication, first.dose, first.absent) == (
        "atrial_fibrillation",
        "5 mg twice a day",
        {},
    )
    assert (second.indication, second.absent) == (
        "",
        {"indication": "not_known", "last_taken_on": "not_known"},
    )


def test_urgency_is_set_by_whoever_saves_it(nurse, patient, address, people):
    nurse.post(address, typed(urgency="urgent"))
    referral = patient.referrals.get()
    assert (referral.urgency_set_by, referral.urgency_set_on) == (people.users["nurse"], TODAY)
    edit = reverse("referral-edit", args=[referral.pk])
    people.client("consultant").post(edit, lines(referral, urgency="urgent", note="seen"))
    referral.refresh_from_db()
    assert referral.urgency_set_by == people.users["nurse"]
    people.client("consultant").post(edit, lines(referral, urgency=""))
    referral.refresh_from_db()
    assert (referral.urgency, referral.urgency_set_by, referral.urgency_set_on) == ("", None, None)


def test_the_same_form_sent_twice_makes_one_referral(nurse, patient, address):
    token = nurse.get(address).context["form"]["token"].value()
    for _ in range(2):
        assert nurse.post(address, typed(token=token)).status_code == 302
    assert patient.referrals.count() == 1


# --- changing -------------------------------------------------------------------------------


def lines(referral: Referral, **changes: str) -> dict[str, str]:
    """The form of a stored referral with its levels, as the page gives it out, with changes."""
    data = typed(version=str(referral.version), **{"fractures-TOTAL_FORMS": "3"})
    for place, fracture in enumerate(referral.fractures.filter(voided_at=None).order_by("pk")):
        data |= {
            f"fractures-{place}-id": str(fracture.pk),
            f"fractures-{place}-version": str(fracture.version),
            f"fractures-{place}-level": fracture.level,
            f"fractures-{place}-tender": "yes",
            "fractures-INITIAL_FORMS": str(place + 1),
        }
    return data | changes


@pytest.fixture
def referral(nurse, patient, address):
    nurse.post(address, typed())
    return patient.referrals.get()


def test_a_change_of_a_referral_and_of_its_level(nurse, referral):
    edit = reverse("referral-edit", args=[referral.pk])
    assert (
        nurse.post(
            edit, lines(referral, pain_moving="5", **{"fractures-0-cause": "osteoporotic"})
        ).status_code
        == 302
    )
    referral.refresh_from_db()
    fracture = referral.fractures.get()
    assert (referral.pain_moving, referral.version) == (5, 2)
    assert (fracture.cause, fracture.version) == ("osteoporotic", 2)


def test_a_level_can_be_added(nurse, referral):
    edit = reverse("referral-edit", args=[referral.pk])
    nurse.post(edit, lines(referral, **{"fractures-1-level": "T12"}))
    assert set(referral.fractures.values_list("level", flat=True)) == {"L1", "T12"}


def test_a_corrected_onset_takes_the_fractures_with_it(nurse, referral):
    edit = reverse("referral-edit", args=[referral.pk])
    nurse.post(edit, lines(referral, **boxes("onset_on", "12", "2", "2027")))
    fracture = referral.fractures.get()
    assert fracture.onset_on == date(2027, 2, 12)
    assert changes_of_row(fracture)[-1].reason == "Onset corrected on the referral"


def test_a_fracture_with_an_onset_of_its_own_keeps_it(nurse, referral):
    fracture = referral.fractures.get()
    own = reverse("fracture-edit", args=[fracture.pk])
    nurse.post(own, {"version": "1", "level": "L1", **boxes("onset_on", "15", "2", "2027")})
    nurse.post(
        reverse("referral-edit", args=[referral.pk]),
        lines(referral, **boxes("onset_on", "12", "2", "2027")),
    )
    fracture.refresh_from_db()
    assert fracture.onset_on == date(2027, 2, 15)


def test_whoever_comes_second_sees_both_values_and_keeps_the_typing(nurse, referral, people):
    edit = reverse("referral-edit", args=[referral.pk])
    mine = lines(referral, pain_moving="3", pain_rest_absent="declined")
    nurse.post(edit, lines(referral, pain_moving="6", pain_rest="2"))
    answer = nurse.post(edit, mine)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert '<th scope="row">Pain on movement</th><td>6</td><td>3</td>' in text
    assert '<td>2</td><td><span class="missing">declined</span></td>' in text
    referral.refresh_from_db()
    assert (referral.pain_moving, referral.pain_rest) == (6, 2)
    assert (
        nurse.post(edit, mine | {"version": answer.context["form"]["version"].value()}).status_code
        == 302
    )
    referral.refresh_from_db()
    assert (referral.pain_moving, referral.pain_rest, referral.absent) == (
        3,
        None,
        {"pain_rest": "declined"},
    )


def test_what_the_second_left_alone_stays_as_the_first_changed_it(nurse, referral):
    edit = reverse("referral-edit", args=[referral.pk])
    mine = lines(referral, pain_moving="3")
    theirs = {"weight_kg": "61.5", "neurology": "N1", "liver_disease": "yes"}
    nurse.post(edit, lines(referral, **theirs, **boxes("onset_on", "", "2", "2027")))
    answer = nurse.post(edit, mine)
    text = answer.content.decode()
    assert "Feb 2027</td>" in text
    assert "01 Feb 2027" not in text
    assert text.count("the recorded value is kept") == 4
    assert "You had changed none of this." in text
    form = answer.context["form"]
    shown = {name: value for name, value in form.data.items() if value}
    assert nurse.post(edit, shown).status_code == 302
    referral.refresh_from_db()
    assert (referral.pain_moving, referral.weight_kg) == (3, Decimal("61.5"))
    assert (referral.neurology, referral.liver_disease) == ("N1", True)
    assert (referral.onset_on, referral.onset_precision) == (date(2027, 2, 1), "month")


def test_the_second_takes_the_recorded_value_where_it_is_right(nurse, referral):
    edit = reverse("referral-edit", args=[referral.pk])
    mine = lines(referral, pain_moving="3", pain_rest="2", mobility="absent:not_known")
    nurse.post(edit, lines(referral, pain_moving="6", pain_rest_absent="declined", mobility="aid"))
    answer = nurse.post(edit, mine)
    text = answer.content.decode()
    assert "take what is recorded now: 6" in text
    assert "take what is recorded now: declined" in text
    ticks = dict.fromkeys(("pain_moving_recorded", "pain_rest_recorded", "mobility_recorded"), "on")
    again = mine | ticks | {"version": answer.context["form"]["version"].value()}
    assert nurse.post(edit, again | {"note": "Spoke to the ward."}).status_code == 302
    referral.refresh_from_db()
    assert (referral.pain_moving, referral.pain_rest, referral.mobility) == (6, None, "aid")
    assert (referral.absent, referral.note) == ({"pain_rest": "declined"}, "Spoke to the ward.")


def test_why_something_changes_stands_in_the_history(nurse, patient, referral):
    edit = reverse("referral-edit", args=[referral.pk])
    nurse.post(edit, lines(referral, pain_moving="5", why="The letter was read wrongly."))
    page = unescape(nurse.get(reverse("patient-history", args=[patient.pk])).content.decode())
    assert "pain on movement changed from 8 to 5" in page
    assert re.search(r"by the specialist nurse [^<]*, because the letter was read wrongly", page)


def test_a_level_changed_by_two_people_shows_both_values(nurse, referral):
    edit = reverse("referral-edit", args=[referral.pk])
    mine = lines(referral, **{"fractures-0-cause": "tumour"})
    nurse.post(edit, lines(referral, **{"fractures-0-cause": "trauma"}))
    referral.refresh_from_db()
    answer = nurse.post(edit, mine | {"version": str(referral.version)})
    assert answer.status_code == 422
    assert "<td>trauma in normal bone</td><td>tumour</td>" in answer.content.decode()
    assert referral.fractures.get().cause == "trauma"


def test_a_fracture_is_set_aside_with_a_reason_on_a_page_of_its_own(nurse, referral):
    fracture = referral.fractures.get()
    address = reverse("fracture-aside", args=[fracture.pk])
    assert nurse.post(address, {"version": "1", "reason": " "}).status_code == 422
    assert nurse.post(address, {"version": "1", "reason": "wrong level"}).status_code == 302
    fracture.refresh_from_db()
    assert fracture.void_reason == "wrong level"
    assert nurse.get(address).status_code == 404


def test_a_treated_fracture_cannot_be_set_aside(nurse, people):
    with acting("test"):
        fracture = make_fracture(make_referral(make_patient(people.site)), state="treated")
    answer = nurse.post(
        reverse("fracture-aside", args=[fracture.pk]), {"version": "1", "reason": "x"}
    )
    assert answer.status_code == 422
    assert "listed or treated" in answer.content.decode()


# --- whose and who --------------------------------------------------------------------------


def test_every_page_of_one_patient_shows_whose_it_is(nurse, patient, referral):
    fracture = referral.fractures.get()
    for name, row in (
        ("referral-new", patient),
        ("referral-edit", referral),
        ("fracture-edit", fracture),
        ("fracture-aside", fracture),
        ("laboratory-new", patient),
    ):
        text = nurse.get(reverse(name, args=[row.pk])).content.decode()
        assert text.count("<h1>") == 1
        assert 'class="identity"' in text
        assert "for ASHBECK, Maud" in text


@pytest.mark.parametrize("name", ["referral-new", "laboratory-new", "study-new"])
def test_a_patient_of_another_site_is_not_there(patient, name):
    with acting("test"):
        other = make_people().client("nurse")
    address = reverse(name, args=[patient.pk])
    assert other.get(address).status_code == other.post(address, typed()).status_code == 404


def test_rows_of_another_site_are_not_there(referral):
    with acting("test"):
        other = make_people().client("consultant")
    fracture = referral.fractures.get()
    for name, row in (
        ("referral-edit", referral),
        ("fracture-edit", fracture),
        ("fracture-aside", fracture),
    ):
        address = reverse(name, args=[row.pk])
        assert other.get(address).status_code == other.post(address).status_code == 404
