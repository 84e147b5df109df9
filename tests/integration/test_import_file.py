"""A file from the command line: told first, written when asked, refused in words."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from register.history import acting
from register.imports.decoding import FileRefused
from register.models import FileImport, Referral
from register.services.imports import ImportRefused, PreviewOutdated
from tests.referral_files import CELLS, TODAY, another, written
from tests.web.people import make_people


@pytest.fixture
def sent(db, tmp_path, monkeypatch):
    monkeypatch.setattr("register.management.commands.import_file.localdate", lambda: TODAY)
    with acting("test"):
        people = make_people()
    file = tmp_path / "week.csv"
    file.write_bytes(written([CELLS, another(Family_name="Ashbeck")]))

    def send(*more: str, user: str = "nurse") -> str:
        told = StringIO()
        name = people.users[user].username
        call_command("import_file", "referrals", str(file), "--user", name, *more, stdout=told)
        return told.getvalue()

    return file, send


def test_it_tells_first_and_writes_when_asked_and_only_once(sent):
    _, send = sent
    assert "2 new\n" in send()
    assert not Referral.objects.exists()
    assert "Written in" in send("--confirm")
    assert Referral.objects.count() == 2
    assert FileImport.objects.exclude(confirmed_at=None).get().confirmed_by is not None
    assert "Nothing was written" in send("--confirm")
    assert Referral.objects.count() == 2


def test_who_may_not_send_files_in_is_told_so(sent):
    _, send = sent
    with pytest.raises(CommandError, match=r"^lead-\d+ may not send files in\. Name a"):
        send(user="lead")


@pytest.mark.parametrize(
    "refusal",
    [
        PreviewOutdated(None, []),
        FileRefused("The workbook cannot be read any more."),
        ImportRefused("This file was confirmed already."),
    ],
    ids=["outdated", "file", "refused"],
)
def test_what_the_confirmation_says_is_said_without_a_traceback(sent, monkeypatch, refusal):
    _, send = sent

    def refuse(**given):
        raise refusal

    monkeypatch.setattr("register.management.commands.import_file.import_confirm", refuse)
    with pytest.raises(CommandError) as told:
        send("--confirm")
    assert (str(told.value), told.value.returncode) == (str(refusal), 1)


def test_a_file_that_cannot_be_read_is_refused_in_words(sent):
    file, send = sent
    file.write_bytes(b"%PDF-1.7")
    with pytest.raises(CommandError, match="PDF"):
        send("--confirm")
    assert not FileImport.objects.exists()
