"""Sessions: ended at once when an account changes, new at each sign-in, limited in time."""

import time
from collections.abc import Callable

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from register.history import acting
from register.models import User
from register.services.people import user_end_sessions, user_passphrase
from register.sessions import BEGAN
from tests.browser.objects import World, make_world
from tests.factories import make_site
from tests.web.real_pages import client_of
from tests.web.test_catalogue import edited

PASSPHRASE = "a long passphrase 1"
SIGN_IN = "/account/sign-in/"


@pytest.fixture
def world(db) -> World:
    with acting("test"):
        return make_world()


@pytest.fixture
def nurse(world) -> User:
    return world.people["nurse"]


@pytest.fixture
def admin(world) -> Client:
    return client_of(world.people["administrator"])


def served(client: Client, world: World) -> list[str]:
    """Which of a page, a fragment and a file the session still gets."""
    found = []
    for kind, address, headers in (
        ("page", reverse("waiting"), {}),
        (
            "fragment",
            reverse("patient-record", args=[world.values["patient_id"]]),
            {"HX-Request": "true"},
        ),
        ("file", reverse("referral-import-empty", args=["referrals", "csv"]), {}),
    ):
        if client.get(address, headers=headers).status_code == 200:
            found.append(kind)
    return found


def new_site(person: User, admin: Client) -> None:
    with acting("test"):
        person.site = make_site()
        person.save()


def new_role(person: User, admin: Client) -> None:
    url, sent = edited(admin, person, role="consultant")
    assert admin.post(url, sent).status_code == 302


def closed(person: User, admin: Client) -> None:
    url, sent = edited(admin, person, is_active=None)
    assert admin.post(url, sent).status_code == 302


def new_passphrase(person: User, admin: Client) -> None:
    address = reverse("user-passphrase", args=[person.pk])
    assert admin.post(address, {"passphrase": "quite another one 2"}).status_code == 302


def sessions_ended(person: User, admin: Client) -> None:
    assert admin.post(reverse("user-sessions", args=[person.pk])).status_code == 302


@pytest.mark.parametrize(
    "change", [new_site, new_role, closed, new_passphrase, sessions_ended], ids=lambda f: f.__name__
)
def test_nothing_is_served_after_the_change(
    world, nurse, admin, change: Callable[[User, Client], None]
):
    sessions = [client_of(nurse), client_of(nurse)]
    assert [served(one, world) for one in sessions] == [["page", "fragment", "file"]] * 2
    change(nurse, admin)
    assert [served(one, world) for one in sessions] == [[], []]
    assert admin.get(reverse("users")).status_code == 200


def test_a_new_name_or_title_ends_no_session(world, nurse, admin):
    client = client_of(nurse)
    url, sent = edited(admin, nurse, job_title="Specialist nurse")
    assert admin.post(url, sent).status_code == 302
    assert served(client, world) == ["page", "fragment", "file"]


def test_the_administrator_keeps_the_own_session_only(world, admin):
    own = world.people["administrator"]
    other = client_of(own)
    sessions_ended(own, admin)
    assert admin.get(reverse("users")).status_code == 200
    assert other.get(reverse("users")).status_code == 302
    other = client_of(User.objects.get(pk=own.pk))
    new_passphrase(own, admin)
    assert admin.get(reverse("users")).status_code == 200
    assert other.get(reverse("users")).status_code == 302


def test_ending_sessions_stays_in_the_history(world, nurse):
    from register.history.reading import changes_of_row

    user_end_sessions(person=nurse, user=world.people["administrator"])
    last = changes_of_row(nurse)[-1]
    assert (last.reason, last.fields) == ("Sessions ended", {"session_epoch": (0, 1)})


def test_a_secret_key_of_before_still_opens_and_still_ends_sessions(world, nurse, settings):
    client = client_of(nurse)
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "another key that is long enough to be one"
    user_passphrase(person=nurse, passphrase="quite another one 2", user=nurse)
    assert served(client, world) == []


def sign_in(client: Client, user: User) -> str:
    client.post(SIGN_IN, {"login": user.username, "password": PASSPHRASE})
    return client.cookies[settings.SESSION_COOKIE_NAME].value


def test_each_sign_in_has_a_new_session_and_the_old_one_is_dead(nurse):
    client = Client()
    client.get(SIGN_IN)
    first = sign_in(client, nurse)
    client.post(reverse("account_logout"))
    second = sign_in(client, nurse)
    assert first != second
    stolen = Client()
    stolen.cookies[settings.SESSION_COOKIE_NAME] = first
    assert stolen.get(reverse("waiting")).status_code == 302


def test_a_session_id_that_somebody_planted_is_not_taken_over(nurse):
    planted = Client()
    planted.session.save()
    before = planted.session.session_key
    planted.cookies[settings.SESSION_COOKIE_NAME] = before
    assert sign_in(planted, nurse) != before


def test_half_an_hour_without_a_request_ends_a_session(nurse, monkeypatch):
    client = client_of(nurse)
    stored = client.session
    stored.set_expiry(-1)
    stored.save()
    assert client.get(reverse("waiting")).status_code == 302
    assert settings.SESSION_COOKIE_AGE == 30 * 60


@pytest.mark.parametrize(("hours", "status"), [(11.9, 200), (12, 302), (-1, 302)])
def test_twelve_hours_end_a_session_however_busy_it_was(nurse, hours, status):
    client = client_of(nurse)
    stored = client.session
    stored[BEGAN] = time.time() - hours * 3600
    stored.save()
    assert client.get(reverse("waiting")).status_code == status


def test_a_session_without_a_beginning_counts_as_too_old(nurse):
    client = client_of(nurse)
    stored = client.session
    del stored[BEGAN]
    stored.save()
    answer = client.get(reverse("waiting"), follow=True)
    assert "signed in for twelve hours" in answer.content.decode()


def test_a_fragment_never_gets_the_sign_in_page(world):
    client = Client()
    for method in ("get", "post"):
        answer = getattr(client, method)(reverse("waiting"), headers={"HX-Request": "true"})
        assert (answer.status_code, answer.content) == (401, b"")


def test_messages_with_names_stay_out_of_cookies(world):
    client = client_of(world.people["consultant"])
    address = reverse("fracture-aside", args=[world.values["fracture_id"]])
    client.post(address, {"reason": "Entered on the wrong level"})
    names = {settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME}
    assert set(client.cookies) <= names
