"""Sign-in through the hospital's directory: off as shipped; with a provider of our own, on.

The settings are read when a process starts, so the tests of the second part run in a
process of their own, where the environment names a provider. Nothing leaves the machine.
"""

import json
import os
import subprocess
import sys
from typing import Any
from urllib.parse import parse_qs, urlsplit

import jwt
import pytest
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.test import Client
from django.urls import NoReverseMatch, reverse

from register.config.single_sign_on import single_sign_on
from register.history import acting
from register.models import User
from tests.factories import make_site, make_user

ISSUER = "https://sign-in.harrowmere.example"
ENVIRONMENT = {
    "REGISTER_OIDC_ISSUER": ISSUER,
    "REGISTER_OIDC_CLIENT_ID": "fracture-register",
    "REGISTER_OIDC_SECRET": "a secret of the provider that is long enough",
    "REGISTER_OIDC_NAME": "Harrowmere sign-in",
}
off = pytest.mark.skipif(bool(settings.SINGLE_SIGN_ON), reason="runs where it is switched off")
on = pytest.mark.skipif(not settings.SINGLE_SIGN_ON, reason="run by the child process below")

# -- as shipped ------------------------------------------------------------------------


@off
def test_as_shipped_there_is_no_such_way_in(client, db):
    assert not any("socialaccount" in app for app in settings.INSTALLED_APPS)
    with pytest.raises(NoReverseMatch):
        reverse("openid_connect_login", args=["hospital"])
    assert "Or with the account" not in client.get(reverse("account_login")).content.decode()


@off
@pytest.mark.parametrize(
    "change", [{"REGISTER_OIDC_ISSUER": "http://sign-in.example"}, {"REGISTER_OIDC_SECRET": ""}]
)
def test_half_a_provider_or_one_without_tls_is_refused(monkeypatch, change):
    for name, value in (ENVIRONMENT | change).items():
        monkeypatch.setenv(name, value)
    with pytest.raises(ImproperlyConfigured, match=next(iter(change))):
        single_sign_on()


@off
def test_where_it_is_switched_on():
    environment = os.environ | ENVIRONMENT
    tests = [
        __file__,
        "tests/integration/test_history.py::test_every_table_has_the_trigger_or_a_written_reason",
        "tests/integration/test_roles.py::test_the_right_to_delete_is_exactly_the_written_list",
        "tests/web/test_access_matrix.py",
    ]
    told = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", *tests],
        env=environment,
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.returncode == 0, told.stdout[-4000:]
    assert " passed" in told.stdout


# -- with a provider -------------------------------------------------------------------


class Answer:
    """What the provider's address answers; as much of a response as the library reads."""

    def __init__(self, content: dict[str, Any]) -> None:
        self.content, self.text, self.status_code = content, json.dumps(content), 200
        self.headers = {"content-type": "application/json"}

    def json(self) -> dict[str, Any]:
        return self.content

    def raise_for_status(self) -> None:
        pass


class Provider:
    """A provider inside this process. `claims` is what it will say of the next person."""

    def __init__(self) -> None:
        self.claims: dict[str, Any] = {}
        self.audience, self.issuer = ENVIRONMENT["REGISTER_OIDC_CLIENT_ID"], ISSUER

    def __enter__(self) -> "Provider":
        return self

    def __exit__(self, *args: object) -> None:
        pass

    def get(self, url: str, **kwargs: Any) -> Answer:
        assert url == f"{ISSUER}/.well-known/openid-configuration"
        places = {f"{name}_endpoint": f"{ISSUER}/{name}" for name in ("authorization", "token")}
        return Answer(places | {"issuer": ISSUER, "jwks_uri": f"{ISSUER}/keys"})

    def request(self, method: str, url: str, **kwargs: Any) -> Answer:
        assert (method, url) == ("POST", f"{ISSUER}/token")
        assert kwargs["data"]["code_verifier"]
        token = {"sub": "7", "aud": self.audience, "iss": self.issuer, "iat": 0, "exp": 2**40}
        signed = jwt.encode(token | self.claims, "k" * 32, algorithm="HS256")
        return Answer({"access_token": "once", "token_type": "Bearer", "id_token": signed})


@pytest.fixture
def provider(monkeypatch) -> Provider:
    from register.directory import DirectoryAdapter

    made = Provider()
    monkeypatch.setattr(DirectoryAdapter, "get_requests_session", lambda self: made)
    return made


@pytest.fixture
def nurse(db) -> User:
    with acting("test"):
        return make_user(make_site(), "nurse", username="a.okafor")


def come_back(client: Client, **query: str) -> Any:
    """Press the button, and come back from the provider."""
    left = client.post(reverse("openid_connect_login", args=["hospital"]), query)
    assert left.url.startswith(f"{ISSUER}/authorization?")
    sent = parse_qs(urlsplit(left.url).query)
    assert sent["code_challenge_method"] == ["S256"]
    back = reverse("openid_connect_callback", args=["hospital"])
    return client.get(back, {"code": "once", "state": sent["state"][0]})


def words(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def is_in(client: Client) -> bool:
    return client.get(reverse("waiting")).status_code == 200


@on
def test_the_sign_in_page_offers_it_and_may_lead_there(client, db):
    answer = client.get(reverse("account_login"))
    assert "Harrowmere sign-in" in words(answer)
    assert f"form-action 'self' {ISSUER}" in answer["Content-Security-Policy"]


@on
def test_somebody_with_an_account_is_signed_in(client, provider, nurse):
    provider.claims = {"preferred_username": "A.Okafor"}
    assert come_back(client).status_code == 302
    assert is_in(client)
    assert client.get(reverse("waiting")).wsgi_request.user == nurse


@on
def test_somebody_without_one_is_refused_in_words_and_none_is_made(client, provider, nurse):
    provider.claims = {"preferred_username": "b.tarn", "email": "a.okafor@harrowmere.example"}
    answer = come_back(client)
    assert answer.status_code == 403
    assert "no account of this register has its name" in words(answer)
    assert not is_in(client)
    assert User.objects.count() == 1


@on
@pytest.mark.parametrize("claims", [{}, {"preferred_username": ""}, {"preferred_username": 7}])
def test_a_token_that_names_nobody_opens_nothing(client, provider, nurse, claims):
    provider.claims = claims
    assert come_back(client).status_code == 403
    assert not is_in(client)


@on
@pytest.mark.parametrize(("verified", "opens"), [(True, True), (False, False), (None, False)])
def test_an_address_counts_only_when_the_provider_confirms_it(
    client, provider, nurse, settings, monkeypatch, verified, opens
):
    from dataclasses import replace

    settings.SINGLE_SIGN_ON = replace(settings.SINGLE_SIGN_ON, claim="email")
    with acting("test"):
        nurse.username = "a.okafor@harrowmere.example"
        nurse.save()
    provider.claims = {"email": nurse.username}
    if verified is not None:
        provider.claims["email_verified"] = verified
    answer = come_back(client)
    assert is_in(client) == opens
    assert opens or "has not confirmed" in words(answer)


@on
@pytest.mark.parametrize("wrong", [{"audience": "another"}, {"issuer": "https://else.example"}])
def test_a_token_for_somebody_else_opens_nothing(client, provider, nurse, wrong):
    provider.claims = {"preferred_username": "a.okafor"}
    for name, value in wrong.items():
        setattr(provider, name, value)
    answer = come_back(client)
    assert answer.status_code == 403
    assert "no answer that can be trusted" in words(answer)
    assert not is_in(client)


@on
def test_an_answer_that_was_not_asked_for_opens_nothing(client, provider, nurse):
    provider.claims = {"preferred_username": "a.okafor"}
    back = reverse("openid_connect_callback", args=["hospital"])
    client.get(back, {"code": "once", "state": "planted"})
    assert not is_in(client)


@on
def test_a_closed_account_stays_closed(client, provider, nurse):
    with acting("test"):
        nurse.is_active = False
        nurse.save()
    provider.claims = {"preferred_username": "a.okafor"}
    assert come_back(client).url == reverse("account_inactive")
    assert not is_in(client)


@on
@pytest.mark.parametrize("process", ["connect", "redirect"])
def test_it_links_no_accounts(client, provider, nurse, process):
    client.force_login(nurse, backend=settings.AUTHENTICATION_BACKENDS[-1])
    provider.claims = {"preferred_username": "a.okafor"}
    left = client.post(reverse("openid_connect_login", args=["hospital"]) + f"?process={process}")
    state = parse_qs(urlsplit(left.url).query)["state"][0]
    back = reverse("openid_connect_callback", args=["hospital"])
    assert client.get(back, {"code": "once", "state": state}).status_code == 403


@on
@pytest.mark.parametrize("declared", [False, True])
def test_the_second_factor_is_asked_for_unless_the_provider_does_it(
    client, provider, nurse, settings, declared
):
    from dataclasses import replace

    settings.SECOND_FACTOR_REQUIRED = True
    settings.SINGLE_SIGN_ON = replace(settings.SINGLE_SIGN_ON, has_second_factor=declared)
    provider.claims = {"preferred_username": "a.okafor"}
    come_back(client)
    assert is_in(client) == declared
    if not declared:
        assert client.get(reverse("waiting")).url == reverse("mfa_activate_totp")
