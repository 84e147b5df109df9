"""The second factor on every way in: none, the passphrase only, both; codes count once."""

import time
from collections.abc import Iterator

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import (
    TOTP,
    format_hotp_value,
    generate_totp_secret,
    hotp_value,
)
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.urls import reverse

from register.history import acting
from register.history.reading import changes_of, changes_of_row
from register.middleware import BEFORE_THE_CODE
from register.models import User
from tests.web.people import People, make_people
from tests.web.test_access_matrix import OPEN, pages

PASSPHRASE = "a long passphrase 1"
SIGN_IN = "/account/sign-in/"


@pytest.fixture(autouse=True)
def required(settings) -> None:
    settings.SECOND_FACTOR_REQUIRED = True
    settings.ALLOWED_HOSTS = ["testserver"]


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


@pytest.fixture
def nurse(people) -> User:
    return people.users["nurse"]


@pytest.fixture
def secret(nurse) -> str:
    made = generate_totp_secret()
    with acting("test"):
        TOTP.activate(nurse, made)
        RecoveryCodes.activate(nurse)
    return made


def code(secret: str) -> str:
    return format_hotp_value(hotp_value(secret, int(time.time()) // 30))


def by_passphrase(user: User) -> Client:
    client = Client()
    client.post(SIGN_IN, {"login": user.username, "password": PASSPHRASE})
    return client


def by_both(user: User, second: str) -> Client:
    client = by_passphrase(user)
    client.post(reverse("mfa_authenticate"), {"code": second})
    return client


def opened(client: Client) -> bool:
    return client.get(reverse("waiting")).status_code == 200


def other_pages() -> Iterator[str]:
    """Every address of ours, and of the library what is not part of signing in."""
    yield "/"
    yield from (address for _, address, _ in pages())
    for name in OPEN:
        if name.startswith(("account_", "mfa_")) and name not in BEFORE_THE_CODE:
            yield reverse(name)


def test_no_page_opens_with_nothing_or_with_the_passphrase_only(nurse, secret):
    ways = {"nothing": Client(), "passphrase only": by_passphrase(nurse)}
    reached, cells = [], 0
    for way, client in ways.items():
        for address in other_pages():
            for method in ("get", "post"):
                for headers in ({}, {"HX-Request": "true"}):
                    answer = getattr(client, method)(address, headers=headers)
                    cells += 1
                    if answer.status_code not in (302, 401, 404) or (
                        answer.status_code == 302 and not answer.url.startswith("/account/")
                    ):
                        reached.append((way, method, address, answer.status_code))
    print(f"{cells} cells, {len(reached)} reached")
    assert not reached


def test_somebody_without_a_device_is_led_to_setting_one_up(nurse):
    client = by_passphrase(nurse)
    for address in other_pages():
        answer = client.get(address)
        assert answer.status_code in (302, 404), address
        assert answer.status_code == 404 or answer.url == reverse("mfa_activate_totp"), address


def test_passphrase_and_code_open_the_pages(nurse, secret):
    client = by_passphrase(nurse)
    assert not opened(client)
    assert "Your code" in client.get(reverse("mfa_authenticate")).content.decode()
    assert client.post(reverse("mfa_authenticate"), {"code": code(secret)}).status_code == 302
    assert opened(client)


def test_a_wrong_code_is_refused_in_words(nurse, secret):
    client = by_passphrase(nurse)
    wrong = f"{(int(code(secret)) + 1) % 1_000_000:06d}"
    answer = client.post(reverse("mfa_authenticate"), {"code": wrong})
    assert "This code is not right" in answer.content.decode()
    assert not opened(client)


def test_a_code_counts_once(nurse, secret):
    once = code(secret)
    assert opened(by_both(nurse, once))
    assert not opened(by_both(nurse, once))


def test_used_codes_are_remembered_for_every_process(nurse, secret):
    by_both(nurse, code(secret))
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM register_sharedcache WHERE cache_key LIKE '%totp.used%'"
        )
        assert cursor.fetchone() == (1,)


def test_a_recovery_code_counts_once(nurse, secret):
    factor = Authenticator.objects.get(user=nurse, type=Authenticator.Type.RECOVERY_CODES)
    first = RecoveryCodes(factor).generate_codes()[0]
    assert opened(by_both(nurse, first))
    assert not opened(by_both(nurse, first))


def test_guessing_codes_is_stopped_for_one_person_only(people, nurse, secret):
    client = by_passphrase(nurse)
    for _ in range(5):
        client.post(reverse("mfa_authenticate"), {"code": "no code"})
    client.post(reverse("mfa_authenticate"), {"code": code(secret)})
    assert not opened(client)
    other = people.users["consultant"]
    theirs = generate_totp_secret()
    with acting("test"):
        TOTP.activate(other, theirs)
    assert opened(by_both(other, code(theirs)))


def test_a_session_that_gave_no_code_gains_nothing_from_one_that_did(nurse):
    thief = by_passphrase(nurse)  # before there is a device
    made = generate_totp_secret()
    with acting("test"):
        TOTP.activate(nurse, made)
        RecoveryCodes.activate(nurse)
    for address in other_pages():
        answer = thief.get(address)
        assert answer.status_code in (302, 404), address
    assert thief.get(reverse("mfa_view_recovery_codes")).url.startswith(
        reverse("mfa_reauthenticate")
    )
    thief.post(reverse("mfa_reauthenticate"), {"code": code(made)})  # it has the device after all
    assert opened(thief)


@pytest.mark.django_db(transaction=True)
def test_setting_a_device_up_opens_the_pages_and_shows_codes_to_print(transactional_db):
    with acting("test"):
        nurse = make_people().users["nurse"]
    client = by_passphrase(nurse)
    shown = client.get(reverse("mfa_activate_totp"))  # and is not asked for it a second time
    secret = shown.context["form"].secret
    answer = client.post(reverse("mfa_activate_totp"), {"code": code(secret)}, follow=True)
    assert "10 of 10 not used yet" in answer.content.decode()
    assert opened(client)
    assert not Client().get(reverse("mfa_download_recovery_codes")).content


def test_secrets_are_sealed_in_the_database(nurse, secret):
    kept = Authenticator.objects.get(user=nurse, type=Authenticator.Type.TOTP).data["secret"]
    assert secret not in kept
    assert TOTP(Authenticator.objects.get(user=nurse, type="totp")).validate_code(code(secret))


def ten_minutes_later(client: Client) -> None:
    session = client.session
    records = session["account_authentication_methods"]
    session["account_authentication_methods"] = [
        record | {"at": record["at"] - 600} for record in records
    ]
    session.save()


def test_a_screen_left_alone_asks_for_the_passphrase_before_a_first_device(nurse):
    client = by_passphrase(nurse)
    ten_minutes_later(client)
    answer = client.get(reverse("mfa_activate_totp"))
    assert answer.url.startswith(reverse("account_reauthenticate"))


def test_changing_the_device_asks_for_a_code_of_it_not_for_the_passphrase(nurse, secret):
    client = by_both(nurse, code(secret))
    ten_minutes_later(client)
    client.post(reverse("account_reauthenticate"), {"password": PASSPHRASE})
    answer = client.post(reverse("mfa_deactivate_totp"))
    assert answer.url.startswith(reverse("mfa_reauthenticate"))
    cache.clear()  # the code of this half minute was used to sign in
    client.post(reverse("mfa_reauthenticate"), {"code": code(secret)})
    assert client.post(reverse("mfa_deactivate_totp")).status_code == 302
    assert not Authenticator.objects.filter(user=nurse).exists()


# -- a lost device ---------------------------------------------------------------------


def administrator(people: People) -> Client:
    secret = generate_totp_secret()
    with acting("test"):
        TOTP.activate(people.users["administrator"], secret)
    return by_both(people.users["administrator"], code(secret))


def test_a_lost_second_factor_is_taken_away_with_a_reason_and_the_person_is_told(
    people, nurse, secret
):
    working = by_both(nurse, code(secret))
    assert opened(working)
    admin = administrator(people)
    address = reverse("user-second-factor", args=[nurse.pk])
    assert admin.post(address, {"reason": "lost"}).status_code == 422
    assert opened(working)
    key = Authenticator.objects.get(user=nurse, type="totp").pk

    reason = "Telephone lost on the ward, asked in person"
    assert admin.post(address, {"reason": reason}).status_code == 302

    assert not opened(working)  # at once
    assert not Authenticator.objects.filter(user=nurse).exists()
    removed, ended = changes_of("mfa_authenticator", key)[-1], changes_of_row(nurse)[-1]
    assert removed.operation == "DELETE"
    for change in (removed, ended):
        assert change.actor_id == people.users["administrator"].pk
        assert change.reason.endswith(reason)
    again = by_passphrase(nurse)
    told = again.get(reverse("mfa_activate_totp")).content.decode()
    assert f"because: {reason}" in told
    assert str(people.users["administrator"]) in told


def test_nobody_takes_the_own_second_factor_away(people):
    admin = administrator(people)
    own = reverse("user-second-factor", args=[people.users["administrator"].pk])
    assert admin.get(own).status_code == 404
    assert admin.post(own, {"reason": "I would rather do without"}).status_code == 404
    assert Authenticator.objects.filter(user=people.users["administrator"]).exists()
