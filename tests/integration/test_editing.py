"""Two people, two connections, one row: nobody overwrites anybody unseen."""

import threading

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from register.history import acting
from register.history.reading import changes_of_row
from register.models import Patient
from register.services import editing
from register.services.editing import EditConflict, update_row
from tests.integration.people import make_patient

RACES = 50


@pytest.fixture
def patient(db):
    with acting("setup"):
        return make_patient(care_home="Before")


def edit(pk: int, version: int, care_home: str, who: str = "test") -> Patient:
    """Do what a service does: load, set, save with the version the form had shown."""
    row = Patient.objects.get(pk=pk)
    row.care_home = care_home
    with acting(who):
        update_row(row, expected_version=version, fields=["care_home"])
    return row


def test_a_change_raises_the_version(patient):
    assert edit(patient.pk, 1, "After").version == 2
    patient.refresh_from_db()
    assert (patient.care_home, patient.version) == ("After", 2)


def test_only_the_named_fields_are_written(patient):
    Patient.objects.get(pk=patient.pk)
    patient.language, patient.care_home = "Welsh", "After"
    with acting("test"):
        update_row(patient, expected_version=1, fields=["care_home"])
    patient.refresh_from_db()
    assert (patient.language, patient.care_home) == ("", "After")


def test_the_slower_one_sees_both_values_and_who_was_faster(patient):
    edit(patient.pk, 1, "Theirs", who="night nurse")
    patient.care_home = "Mine"
    with acting("test"), pytest.raises(EditConflict, match="Somebody else changed") as caught:
        update_row(patient, expected_version=1, fields=["care_home", "language"])
    conflict = caught.value
    assert conflict.theirs == {"care_home": "Theirs", "language": ""}
    assert conflict.yours == {"care_home": "Mine", "language": ""}
    assert conflict.differing == ["care_home"]
    assert (conflict.version, conflict.changed_by) == (2, "night nurse")
    assert conflict.changed_at == changes_of_row(patient)[-1].at
    assert patient.care_home == "Mine"
    assert Patient.objects.get(pk=patient.pk).care_home == "Theirs"


def test_a_column_younger_than_the_history_counts_as_empty_then(patient, monkeypatch):
    """As on a register that was upgraded: the history cannot know the column."""
    edit(patient.pk, 1, "Theirs")
    known = changes_of_row(patient)
    for change in known:
        del change.new["language"]
    monkeypatch.setattr(editing, "changes_of_row", lambda row: known)
    patient.care_home = "Mine"
    with acting("test"), pytest.raises(EditConflict) as caught:
        update_row(patient, expected_version=1, fields=["care_home", "language"])
    assert caught.value.before == {"care_home": "Before", "language": ""}


def test_a_row_that_would_be_wrong_is_not_saved(patient):
    patient.family_name = ""
    with pytest.raises(ValidationError), acting("test"):
        update_row(patient, expected_version=1, fields=["family_name"])
    patient.refresh_from_db()
    assert (patient.family_name, patient.version) == ("Quillfeather", 1)


@pytest.mark.django_db(transaction=True)
def test_of_two_simultaneous_savers_exactly_one_wins():
    with acting("setup"):
        pk = make_patient(care_home="Before").pk
    for race in range(RACES):
        before = Patient.objects.get(pk=pk)
        answers = both_save(pk, before.version, [f"first {race}", f"second {race}"])
        after = Patient.objects.get(pk=pk)
        won = [text for text, conflict in answers.items() if conflict is None]
        lost = [conflict for conflict in answers.values() if conflict is not None]
        assert won == [after.care_home]
        assert after.version == before.version + 1
        assert [conflict.theirs["care_home"] for conflict in lost] == won


def both_save(pk: int, version: int, texts: list[str]) -> dict[str, EditConflict | None]:
    """Save on two connections at the same moment; return the conflict of each, or None."""
    start, answers = threading.Barrier(len(texts)), {}

    def save(text: str) -> None:
        try:
            row = Patient.objects.get(pk=pk)
            row.care_home = text
            start.wait(timeout=60)
            with acting(text):
                update_row(row, expected_version=version, fields=["care_home"])
            answers[text] = None
        except EditConflict as conflict:
            answers[text] = conflict
        finally:
            connection.close()

    threads = [threading.Thread(target=save, args=[text]) for text in texts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers
