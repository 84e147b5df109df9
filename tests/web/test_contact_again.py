"""A contact saved twice, by two people, later; tries to reach somebody, and the end."""

from datetime import timedelta

import pytest

from register.history import acting
from register.history.reading import changes_of_row
from register.models import Attempt, Draft, FormReceipt, Review, Score
from register.services import outcomes as writing
from tests.web.follow_up import DUE, TODAY, address, boxes, end, typed, values, words

# --- twice, at the same time, later ----------------------------------------------


def test_fifty_presses_make_one_contact(nurse, contact):
    sent = typed(nurse, contact)
    answers = [nurse.post(address(contact), sent) for _ in range(50)]
    assert {answer.url for answer in answers} == {DUE}
    contact.refresh_from_db()
    assert contact.version == 2
    assert len(values(contact)) == 8
    assert FormReceipt.objects.count() == 1


def test_fifty_presses_note_one_try_and_a_page_from_back_notes_another(people, nurse, contact):
    form = nurse.get(address(contact, "attempt-new")).context["form"]
    sent = {
        "token": form["token"].value(), "mode": "telephone", "outcome": "no_answer",
        **boxes("made_on", TODAY - timedelta(1)), "made_at": "10:05",
    }  # fmt: skip
    for _ in range(50):
        assert nurse.post(address(contact, "attempt-new"), sent).url == DUE
    assert Attempt.objects.count() == 1
    nurse.post(address(contact, "attempt-new"), sent | {"made_at": "11:05"})
    assert Attempt.objects.count() == 2


def test_the_second_of_two_people_sees_both_values_and_loses_no_typing(people, nurse, contact):
    other = people.client("consultant")
    mine, theirs = (
        typed(nurse, contact, pain_now="3"),
        typed(other, contact, pain_now="5", note="x"),
    )
    mine["pain_worst"] = theirs["pain_worst"] = "6"
    assert other.post(address(contact), theirs).status_code == 302
    answer = nurse.post(address(contact), mine)
    assert answer.status_code == 422
    told = {d.label: (d.theirs, d.yours) for d in answer.context["form"].conflict.differences}
    assert told["Pain now"] == ("5", "3")
    assert told["Note"][0] == "x"
    assert 'name="pain_now" value="3"' in words(answer)
    assert values(contact)["pain_now"] == 5
    again = mine | {"version": answer.context["form"]["version"].value()}
    assert nurse.post(address(contact), again).status_code == 302
    assert values(contact)["pain_now"] == 3


def differences(answer):
    assert answer.status_code == 422
    return {one.label: one for one in answer.context["form"].conflict.differences}


def test_a_save_in_the_very_moment_is_never_taken_for_what_was_loaded(
    people, nurse, contact, monkeypatch
):
    nurse.post(address(contact), typed(nurse, contact, pain_now="3", pain_worst="6"))
    other = people.client("consultant")
    mine = typed(nurse, contact, pain_now="3", pain_worst="6", note="my note")
    theirs = typed(other, contact, pain_now="5", pain_worst="6")
    record = writing.review_record

    def after_theirs(**given):
        monkeypatch.setattr(writing, "review_record", record)
        assert other.post(address(contact), theirs).status_code == 302
        return record(**given)

    monkeypatch.setattr(writing, "review_record", after_theirs)
    answer = nurse.post(address(contact), mine)
    pain = differences(answer)["Pain now"]
    assert (pain.theirs, pain.yours, pain.is_kept) == ("5", "3", False)
    version = {"version": answer.context["form"]["version"].value()}
    nurse.post(address(contact), mine | version | {"pain_now_recorded": "on"})
    contact.refresh_from_db()
    assert (values(contact)["pain_now"], contact.note) == (5, "my note")


def test_warning_signs_of_the_other_are_kept_with_who_was_told_of_them(people, nurse, contact):
    nurse.post(address(contact), typed(nurse, contact))
    other = people.client("consultant")
    mine = typed(nurse, contact, note="my note")
    told = {"red_flags_told": "the registrar", **boxes("told_on", TODAY), "told_at": "00:01"}
    signs = {"red_flag_check": "some", "red_flags": ["fever"], **told}
    assert other.post(address(contact), typed(other, contact, **signs)).status_code == 302
    answer = nurse.post(address(contact), mine)
    found = differences(answer)
    assert list(found) == ["Warning signs", "Told whom", "Told at"]
    assert all(one.is_kept for one in found.values())
    form = answer.context["form"]
    assert nurse.post(address(contact), dict(form.data.lists())).status_code == 302
    contact.refresh_from_db()
    assert (contact.red_flags, contact.red_flags_told) == (["fever"], "the registrar")
    assert contact.red_flags_told_at is not None
    assert contact.note == "my note"


def test_an_amendment_may_say_why_and_the_first_record_is_not_asked(nurse, contact):
    assert "why_changed" not in nurse.get(address(contact)).context["form"].fields
    nurse.post(address(contact), typed(nurse, contact))
    why = "The scale was read the wrong way round."
    nurse.post(address(contact), typed(nurse, contact, pain_moving="4", why_changed=why))
    score = Score.objects.get(review=contact, instrument="pain_moving")
    assert (score.value, changes_of_row(score)[-1].reason) == (4, why)


def test_an_amended_score_is_shown_with_what_stood_before(people, nurse, contact):
    nurse.post(address(contact), typed(nurse, contact, pain_now="4", pain_worst="6"))
    nurse.post(
        address(contact),
        typed(nurse, contact, pain_now="", pain_now_absent="declined", pain_worst="6"),
    )
    page = words(nurse.get(address(contact)))
    assert "Pain now: 4, then declined" in page
    assert f"({people.users['nurse']})" in page
    assert Score.objects.filter(review=contact, instrument="pain_now").count() == 1


def test_typing_is_kept_for_its_author_and_goes_when_saved(people, nurse, contact):
    kept = nurse.post(
        address(contact, "review-draft"), {"pain_now": "6", "version": "1", "note": "cut"}
    )
    assert kept.json() == {"words": "Typing kept."}
    page = words(nurse.get(address(contact)))
    assert 'name="pain_now" value="6"' in page
    assert "Not saved yet." in page
    assert "Not saved yet." not in words(people.client("consultant").get(address(contact)))
    nurse.post(address(contact), typed(nurse, contact, pain_now="6", pain_worst="6"))
    assert not Draft.objects.exists()


def test_a_draft_can_be_given_up(nurse, contact):
    nurse.post(address(contact, "review-draft"), {"pain_now": "6"})
    nurse.post(address(contact, "review-draft"), {"give_up": "yes"})
    assert not Draft.objects.exists()


def test_a_draft_typed_over_an_older_version_meets_the_conflict(people, nurse, contact):
    nurse.post(address(contact, "review-draft"), {"pain_now": "6", "version": "1"})
    other = people.client("consultant")
    other.post(address(contact), typed(other, contact))
    assert nurse.post(address(contact), typed(nurse, contact)).status_code == 422


def test_more_than_typing_is_not_kept_as_a_draft(nurse, contact):
    answer = nurse.post(address(contact, "review-draft"), {"note": "x" * 20_001})
    assert answer.status_code == 422
    assert not Draft.objects.exists()


# --- attempts and ends --------------------------------------------------------------


def test_a_try_that_reached_somebody_leads_to_the_scores(nurse, contact):
    form = nurse.get(address(contact, "attempt-new")).context["form"]
    sent = {
        "token": form["token"].value(), "mode": "telephone", "outcome": "reached",
        **boxes("made_on", TODAY - timedelta(1)), "made_at": "10.05",
    }  # fmt: skip
    assert nurse.post(address(contact, "attempt-new"), sent).url == address(contact)


def ended(nurse, contact, **changes):
    form = nurse.get(end(contact)).context["form"]
    return {
        "version": form["version"].value(), "end": "dead", "ended_on_day": str(TODAY.day),
        "ended_on_month": str(TODAY.month), "ended_on_year": str(TODAY.year),
        "source": "hospital system",
    } | changes  # fmt: skip


def test_an_end_is_saved_only_after_its_consequences_were_named(nurse, contact):
    sent = ended(nurse, contact)
    asked = nurse.post(end(contact), sent)
    assert asked.status_code == 200
    assert "1 open contact: not listed any more" in words(asked)
    assert "becomes the date of death" in words(asked)
    contact.patient.refresh_from_db()
    assert contact.patient.follow_up_end == ""
    confirmed = {"confirmed": asked.context["form"].decision}
    nurse.post(end(contact), sent | confirmed | {"source": "the daughter"})
    contact.patient.refresh_from_db()
    assert contact.patient.follow_up_end == "", "a changed answer is asked about again"
    nurse.post(end(contact), sent | confirmed)
    contact.patient.refresh_from_db()
    assert (contact.patient.follow_up_end, contact.patient.date_of_death) == ("dead", TODAY)


def test_an_end_can_be_taken_back_with_the_date_of_death(nurse, contact):
    sent = ended(nurse, contact)
    nurse.post(
        end(contact), sent | {"confirmed": nurse.post(end(contact), sent).context["form"].decision}
    )
    back = ended(nurse, contact, end="goes_on")
    asked = nurse.post(end(contact), back)
    assert "is removed." in words(asked)
    nurse.post(end(contact), back | {"confirmed": asked.context["form"].decision})
    contact.patient.refresh_from_db()
    assert (contact.patient.follow_up_end, contact.patient.date_of_death) == ("", None)


def test_nobody_dies_before_a_contact_that_was_held(people, nurse, contact):
    with acting("test"):
        Review.objects.filter(pk=contact.pk).update(
            held_on=TODAY, recorded_by=people.users["nurse"]
        )
    day = TODAY - timedelta(days=1)
    sent = ended(nurse, contact, ended_on_day=str(day.day), ended_on_month=str(day.month))
    sent["ended_on_year"] = str(day.year)
    asked = nurse.post(end(contact), sent)
    answer = nurse.post(end(contact), sent | {"confirmed": asked.context["form"].decision})
    assert answer.status_code == 422
    assert "Correct this day, or the contact first." in words(answer)


@pytest.mark.parametrize("missing", ["source", "ended_on_day"])
def test_an_end_needs_day_and_source(nurse, contact, missing):
    assert nurse.post(end(contact), ended(nurse, contact, **{missing: ""})).status_code == 422
