"""Finding, entering and changing a patient."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from register.history import acting
from register.history.reading import changes_of_row
from register.models import AccessLog, Patient, PatientPhone
from tests.clock import stop_clock
from tests.factories import TODAY, make_patient, make_referral, nhs_number
from tests.web.people import People, make_people

SEARCH = reverse("patient-search")
NEW = reverse("patient-new")
NHS = nhs_number(950)


@pytest.fixture
def people(db, monkeypatch) -> People:
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def nurse(people):
    return people.client("nurse")


@pytest.fixture
def maud(people):
    with acting("test"):
        return make_patient(
            people.site,
            family_name="Ashbeck",
            given_name="Maud",
            hospital_number="H00471",
            nhs_number=NHS,
        )


def typed(**changes: str) -> dict[str, str]:
    """A filled form of a new patient."""
    return {
        "hospital_number": "H00999",
        "nhs_number": nhs_number(951),
        "family_name": "Tarnwick",
        "given_name": "Edith",
        "date_of_birth_day": "3",
        "date_of_birth_month": "Apr",
        "date_of_birth_year": "1944",
        "sex": "female",
        "phones-TOTAL_FORMS": "2",
        "phones-INITIAL_FORMS": "0",
        "phones-0-number": "01632 960141",
        "phones-0-kind": "home",
        "phones-0-message_allowed": "no",
    } | changes


def look_up(client, text: str):
    answer = client.post(SEARCH, {"text": text})
    assert answer.status_code == 302
    assert answer.url == SEARCH
    return client.get(SEARCH)


# --- search ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "ashbeck", "Ash", "maud ash", "ASHBECK, Maud", "H00471", "h00471",
        NHS, f"{NHS[:3]} {NHS[3:6]} {NHS[6:]}", f"{NHS[:3]}-{NHS[3:6]}-{NHS[6:]}", f" {NHS} ",
    ],
)  # fmt: skip
def test_a_patient_is_found_by_name_and_by_either_number(nurse, maud, text):
    assert [p.pk for p in look_up(nurse, text).context["page"]] == [maud.pk]


@pytest.mark.parametrize("text", ["beck", "shbe", "H0047", NHS[:9], "Maud Smith", "%", "_"])
def test_others_are_not_found(nurse, maud, text):
    assert list(look_up(nurse, text).context["page"]) == []


def test_the_part_after_a_hyphen_or_a_blank_begins_a_name_too(people, nurse):
    with acting("test"):
        make_patient(people.site, family_name="Coldmere-Fell", given_name="Anna Maria")
    for text in ("fell", "maria", "anna fell"):
        assert len(look_up(nurse, text).context["page"]) == 1


def test_no_address_holds_what_was_looked_for(nurse, maud):
    answer = look_up(nurse, "ashbeck")
    assert "ashbeck" not in answer.wsgi_request.get_full_path().lower()
    text = answer.content.decode()
    assert reverse("patient-record", args=[maud.pk]) in text
    assert not any(name in address for name in ("ash", NHS) for address in links(text))


def links(text: str) -> list[str]:
    return [part.split('"')[0].lower() for part in text.split('href="')[1:]]


def test_the_list_has_no_identity_strip_and_marks_similar_names(people, nurse, maud):
    with acting("test"):
        make_patient(people.site, family_name="Ashbecke", given_name="Mabel")
        make_patient(people.site, family_name="Ashworth", given_name="Doris")
    text = look_up(nurse, "ash").content.decode()
    assert 'class="identity"' not in text
    assert text.count("similar name") == 2


def test_an_empty_search_says_what_to_do(nurse):
    answer = nurse.post(SEARCH, {"text": " "})
    assert answer.status_code == 422
    assert "Enter a name or a number." in answer.content.decode()
    assert "Nobody was found." in look_up(nurse, "zzz").content.decode()


def test_the_lead_finds_by_the_whole_number_only(people, maud):
    lead = people.client("lead")
    assert list(look_up(lead, "ashbeck").context["page"]) == []
    found = look_up(lead, NHS)
    assert [p.pk for p in found.context["page"]] == [maud.pk]
    shown = found.content.decode()
    assert reverse("patient-record", args=[maud.pk]) in shown
    for told in (maud.family_name, maud.family_name.upper(), maud.hospital_number):
        assert told not in shown  # whose it is stands behind the reason


def test_patients_of_another_site_are_not_found(maud):
    with acting("test"):
        other = make_people().client("nurse")
    assert list(look_up(other, "ashbeck").context["page"]) == []
    assert other.get(reverse("patient-edit", args=[maud.pk])).status_code == 404
    assert other.post(reverse("patient-edit", args=[maud.pk])).status_code == 404


def test_the_list_takes_the_same_queries_for_three_and_three_hundred(people, nurse):
    def add(count: int) -> None:
        with acting("test"):
            for n in range(count):
                make_referral(make_patient(people.site, family_name=f"Ashbeck{n:03d}"))

    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert nurse.get(SEARCH).status_code == 200
        return len(counted)

    look_up(nurse, "ash")
    add(3)
    few = queries()
    add(297)
    assert nurse.get(SEARCH).context["page"].paginator.count == 300
    assert queries() == few


# --- entering ---------------------------------------------------------------------------


def test_a_new_patient_is_saved_with_telephones_and_leads_to_the_referral(nurse, people):
    answer = nurse.post(NEW, typed())
    patient = Patient.objects.get(hospital_number="H00999")
    assert answer.url == reverse("referral-new", args=[patient.pk])
    assert patient.site == people.site
    assert (patient.interpreter_needed, patient.address, patient.absent) == (None, "", {})
    phone = PatientPhone.objects.get()
    assert (phone.number, phone.kind, phone.message_allowed) == ("01632 960141", "home", False)
    assert changes_of_row(patient)[0].actor == people.users["nurse"].username


def test_a_reason_a_value_and_nothing_are_three_things(nurse):
    nurse.post(
        NEW,
        typed(nhs_number="", nhs_number_absent="not_known", interpreter_needed="absent:declined"),
    )
    patient = Patient.objects.get(hospital_number="H00999")
    assert patient.absent == {"nhs_number": "not_known", "interpreter_needed": "declined"}
    nurse.post(
        NEW,
        typed(hospital_number="H2", nhs_number="", family_name="Fenby", interpreter_needed="no"),
    )
    patient = Patient.objects.get(hospital_number="H2")
    assert (patient.nhs_number, patient.interpreter_needed, patient.absent) == ("", False, {})


def test_a_value_and_a_reason_together_are_refused(nurse):
    answer = nurse.post(NEW, typed(nhs_number_absent="not_known"))
    assert answer.status_code == 422
    assert "not both" in answer.content.decode()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"nhs_number": "943 476 5919"}, "only invented numbers"),
        ({"nhs_number": "999 000 0019"}, "a digit is mistyped"),
        ({"date_of_birth_year": "2044"}, "on or before 07 Mar 2027"),
        ({"date_of_birth_day": "31"}, "no day 31 in Apr"),
        (
            {"date_of_death_day": "1", "date_of_death_month": "1", "date_of_death_year": "1940"},
            "(the date of birth)",
        ),
        ({"phones-0-number": ""}, "Number: fill it in, or empty the line."),
        ({"family_name": ""}, "Family name: fill it in."),
    ],
)
def test_what_cannot_be_is_refused_and_keeps_what_was_typed(nurse, changes, words):
    answer = nurse.post(NEW, typed(**changes))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert words in text
    assert 'value="Edith"' in text
    assert "error-summary" in text
    assert "<title>Error: New patient" in text
    assert Patient.objects.count() == 0


def test_a_number_that_is_taken_names_its_patient(nurse, maud):
    for changes in ({"hospital_number": "h00471"}, {"nhs_number": NHS}):
        answer = nurse.post(NEW, typed(**changes))
        assert answer.status_code == 422
        assert "belongs to ASHBECK, Maud" in answer.content.decode()


def test_a_namesake_born_on_the_same_day_is_asked_about_once(nurse, people):
    with acting("test"):
        make_patient(
            people.site, family_name="Tarnwyck", given_name="Edith", date_of_birth=date(1944, 4, 3)
        )
    answer = nurse.post(NEW, typed())
    assert answer.status_code == 422
    assert "Recorded already: TARNWYCK, Edith, born 03 Apr 1944" in answer.content.decode()
    assert nurse.post(NEW, typed(is_another="on")).status_code == 302


def test_the_same_form_sent_twice_makes_one_patient(nurse):
    token = nurse.get(NEW).context["form"]["token"].value()
    for _ in range(2):
        assert nurse.post(NEW, typed(token=token)).status_code in (302, 422)
    assert Patient.objects.count() == 1


# --- changing -----------------------------------------------------------------------------


def stored(patient: Patient, **changes: str) -> dict[str, str]:
    """The form of a stored patient, as the page gives it out, with changes."""
    born = patient.date_of_birth
    return (
        typed(
            hospital_number=patient.hospital_number,
            nhs_number=patient.nhs_number,
            family_name=patient.family_name,
            given_name=patient.given_name,
            date_of_birth_day=str(born.day),
            date_of_birth_month=str(born.month),
            date_of_birth_year=str(born.year),
            version=str(patient.version),
            **{"phones-0-number": "", "phones-0-kind": "", "phones-0-message_allowed": ""},
        )
        | changes
    )


def test_a_change_is_saved_and_told(nurse, maud):
    address = reverse("patient-edit", args=[maud.pk])
    answer = nurse.post(address, stored(maud, care_home="Selkholme Lodge"))
    assert answer.url == reverse("patient-record", args=[maud.pk])
    maud.refresh_from_db()
    assert (maud.care_home, maud.version) == ("Selkholme Lodge", 2)


def test_whoever_comes_second_sees_both_values_keeps_the_typing_and_decides(nurse, maud, people):
    address = reverse("patient-edit", args=[maud.pk])
    nurse.post(address, stored(maud, care_home="Selkholme Lodge"))
    answer = nurse.post(address, stored(maud, care_home="The Old Maltings"))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert f"Changed by {people.users['nurse']}, " in text
    assert "<td>Selkholme Lodge</td><td>The Old Maltings</td>" in text
    assert 'value="The Old Maltings"' in text
    maud.refresh_from_db()
    assert maud.care_home == "Selkholme Lodge"
    version = answer.context["form"]["version"].value()
    assert (
        nurse.post(address, stored(maud, care_home="The Old Maltings", version=version)).status_code
        == 302
    )
    maud.refresh_from_db()
    assert maud.care_home == "The Old Maltings"


def test_a_form_without_its_version_changes_nothing(nurse, maud):
    answer = nurse.post(
        reverse("patient-edit", args=[maud.pk]), stored(maud, version="", care_home="X")
    )
    assert answer.status_code == 422
    maud.refresh_from_db()
    assert maud.care_home == ""


def with_phone(maud, **changes: str) -> dict[str, str]:
    phone = PatientPhone.objects.get(patient=maud)
    return (
        stored(maud)
        | {
            "phones-INITIAL_FORMS": "1",
            "phones-0-id": str(phone.pk),
            "phones-0-version": str(phone.version),
            "phones-0-number": phone.number,
        }
        | changes
    )


@pytest.fixture
def phone(maud):
    with acting("test"):
        return PatientPhone.objects.create(patient=maud, number="01632 960141")


def test_a_telephone_is_changed_and_removed_by_its_line(nurse, maud, phone):
    address = reverse("patient-edit", args=[maud.pk])
    nurse.post(address, with_phone(maud, **{"phones-0-number": "01632 960142"}))
    phone.refresh_from_db()
    maud.refresh_from_db()
    assert phone.number == "01632 960142"
    nurse.post(address, with_phone(maud, **{"phones-0-remove": "on"}))
    phone.refresh_from_db()
    assert (phone.void_reason, PatientPhone.objects.live().count()) == ("Removed from the list", 0)


def test_a_line_changed_by_two_people_shows_both_values(nurse, maud, phone):
    address = reverse("patient-edit", args=[maud.pk])
    mine = with_phone(maud, **{"phones-0-number": "01632 960143"})
    nurse.post(address, with_phone(maud, **{"phones-0-number": "01632 960142"}))
    maud.refresh_from_db()
    answer = nurse.post(address, mine | {"version": str(maud.version)})
    assert answer.status_code == 422
    assert "<td>01632 960142</td><td>01632 960143</td>" in answer.content.decode()
    phone.refresh_from_db()
    maud.refresh_from_db()
    assert (phone.number, maud.version) == ("01632 960142", 2)


def test_a_line_of_another_patient_cannot_be_written(nurse, maud, phone, people):
    with acting("test"):
        other = make_patient(people.site)
    data = with_phone(maud, **{"phones-0-number": "07700 900999"})
    answer = nurse.post(
        reverse("patient-edit", args=[other.pk]),
        stored(other) | {k: v for k, v in data.items() if "phones" in k},
    )
    assert answer.status_code == 422
    phone.refresh_from_db()
    assert phone.number == "01632 960141"


def test_the_page_of_one_patient_shows_whose_it_is_and_the_look_is_noted(nurse, maud):
    text = nurse.get(reverse("patient-edit", args=[maud.pk])).content.decode()
    assert 'class="identity"' in text
    assert "for ASHBECK, Maud" in text
    look = AccessLog.objects.get()
    assert (look.patient, look.page) == (maud, "patient-edit")


@pytest.mark.parametrize("role", ["lead", "administrator"])
def test_others_neither_enter_nor_change_patients(people, maud, role):
    client = people.client(role)
    for address in (NEW, reverse("patient-edit", args=[maud.pk])):
        assert client.get(address).status_code == 403
        assert client.post(address, typed()).status_code == 403
    assert Patient.objects.count() == 1
