"""The first account of a live register is made on its server; nobody else could make it."""

import io
from collections.abc import Callable

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from register.history import acting
from register.history.reading import changes_of_row
from register.models import Site, User
from tests.factories import make_site

pytestmark = pytest.mark.django_db
PASSPHRASE = "grey heron on the weir"


@pytest.fixture
def add(monkeypatch) -> Callable[..., str]:
    def act(name: str = "anna.moor", passphrase: str = PASSPHRASE, **options: str) -> str:
        out = io.StringIO()
        monkeypatch.setattr("sys.stdin", io.StringIO(f"{passphrase}\n"))
        options = {"given_name": "Anna", "family_name": "Moor"} | options
        call_command("add_administrator", name, stdout=out, **options)
        return out.getvalue()

    return act


def test_the_first_one_is_made_with_the_department(add):
    told = add(new_department="Spine Unit, Harrowmere")
    assert "Sign in as anna.moor" in told
    person = User.objects.get()
    assert (person.role, str(person.site)) == ("administrator", "Spine Unit, Harrowmere")
    assert person.check_password(PASSPHRASE)
    assert [one.actor for one in changes_of_row(person)] == ["add_administrator"]


def test_another_one_joins_the_only_department(add):
    with acting("test"):
        site = make_site()
    add()
    assert User.objects.get().site == site


def test_without_a_department_it_says_how_to_make_one(add):
    with pytest.raises(CommandError, match="--new-department"):
        add()
    assert not Site.objects.exists()


@pytest.mark.parametrize("name", ["", "Elsewhere"])
def test_among_several_the_department_is_asked_for(add, name):
    with acting("test"):
        make_site(name="East"), make_site(name="West")
    with pytest.raises(CommandError, match="There are: East, West"):
        add(department=name)
    add(department="west")
    assert str(User.objects.get().site) == "West"


@pytest.mark.parametrize("name", ["anna.moor", "Anna.Moor"])
def test_a_name_that_is_taken_makes_neither_account_nor_department(add, name):
    add(new_department="East")
    with pytest.raises(CommandError):
        add(name, new_department="West")
    assert (User.objects.count(), Site.objects.count()) == (1, 1)


def test_a_weak_passphrase_is_refused(add):
    with pytest.raises(CommandError, match="12 characters"):
        add(passphrase="short", new_department="East")


def test_the_demonstration_keeps_its_own_accounts(add, settings):
    settings.REGISTER_MODE = "demo"
    with pytest.raises(CommandError, match="REGISTER_MODE=live"):
        add(new_department="East")
