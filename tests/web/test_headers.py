"""Headers and cookies of a live site, and that asking for a page changes nothing."""

import json
import os
import subprocess
import sys
from typing import Any

import pytest
from django.conf import settings
from django.db import connection, transaction
from django.test import Client

from register.history import acting
from register.models import Patient
from tests.browser.objects import World, make_world
from tests.web.real_pages import client_of, real_pages

# Started as a live site, on the database of the tests, the settings say what they are.
LIVE = """
import json, django
from django.conf import settings
from django.core.management import call_command
django.setup()
call_command("check", deploy=True, fail_level="WARNING", databases=[])
names = ("SESSION_COOKIE_NAME", "CSRF_COOKIE_NAME", "SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE",
         "SESSION_COOKIE_HTTPONLY", "SESSION_COOKIE_SAMESITE", "SESSION_COOKIE_PATH",
         "SESSION_COOKIE_DOMAIN", "SECURE_HSTS_SECONDS", "SECURE_SSL_REDIRECT", "DEBUG",
         "SECOND_FACTOR_REQUIRED")
print(json.dumps({name: getattr(settings, name) for name in names}))
from django.test import Client
answer = Client(SERVER_NAME="register.harrowmere.example").get("/", secure=True)
print(json.dumps(dict(answer.headers)))
plain = Client(SERVER_NAME="register.harrowmere.example").get("/")
print(json.dumps([plain.status_code, plain.headers["Location"]]))
"""
pytestmark = pytest.mark.usefixtures("undrawn")


@pytest.fixture
def world(db) -> World:
    with acting("test"):
        return make_world()


@pytest.fixture(scope="module")
def live() -> list[Any]:
    """What a live site says of itself: settings, headers, the answer without TLS."""
    roles = {name: settings.DATABASES[name] for name in ("default", "owner")}
    address = {
        name: "postgresql://{USER}:{PASSWORD}@/{NAME}?host={HOST}&port={PORT}".format(**one)
        for name, one in roles.items()
    }
    environment = os.environ | {
        "REGISTER_MODE": "live",
        "REGISTER_SECRET_KEY": "Zq7" * 25 + "tWx!9kLmPv",
        "REGISTER_HOSTS": "register.harrowmere.example",
        "REGISTER_APP_URL": address["default"],
        "REGISTER_OWNER_URL": address["owner"],
        "DJANGO_SETTINGS_MODULE": "register.config.settings",
    }
    # Set by the tests in a browser; a live site that had it would rightly refuse.
    environment.pop("DJANGO_ALLOW_ASYNC_UNSAFE", None)
    told = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", LIVE],
        env=environment,
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.returncode == 0, told.stderr[-2000:]
    assert "no issues" in told.stdout
    return [json.loads(line) for line in told.stdout.splitlines() if line[:1] in "{["]


def test_the_deployment_check_of_a_live_site_finds_nothing(live):
    assert len(live) == 3  # the check is in the fixture


def test_cookies_of_a_live_site_are_bound_to_it(live):
    kept = live[0]
    assert kept["SESSION_COOKIE_NAME"] == "__Host-session"
    assert kept["CSRF_COOKIE_NAME"] == "__Host-csrf"
    for name in ("SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE", "SESSION_COOKIE_HTTPONLY"):
        assert kept[name] is True
    # A browser takes a __Host- cookie only for "/" and without a domain.
    assert (kept["SESSION_COOKIE_PATH"], kept["SESSION_COOKIE_DOMAIN"]) == ("/", None)
    assert kept["SESSION_COOKIE_SAMESITE"] == "Lax"
    assert (kept["DEBUG"], kept["SECOND_FACTOR_REQUIRED"]) == (False, True)


def test_headers_of_a_live_site(live):
    sent = live[1]
    assert sent["Cache-Control"] == "no-store"
    assert sent["X-Content-Type-Options"] == "nosniff"
    assert sent["X-Frame-Options"] == "DENY"
    assert sent["Referrer-Policy"] == "same-origin"
    assert sent["Cross-Origin-Opener-Policy"] == "same-origin"
    assert sent["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "camera=()" in sent["Permissions-Policy"]
    seconds = int(sent["Strict-Transport-Security"].split(";")[0].removeprefix("max-age="))
    assert seconds >= 365 * 24 * 3600
    policy = sent["Content-Security-Policy"]
    assert "unsafe" not in policy
    for part in ("default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'"):
        assert part in policy


def test_without_tls_a_live_site_only_sends_elsewhere(live):
    assert live[2] == [301, "https://register.harrowmere.example/"]


def test_every_answer_carries_them_whoever_asks(world):
    missing = []
    for client in (Client(), client_of(world.people["nurse"])):
        for page in real_pages(world):
            answer = client.post(page.address, headers={"HX-Request": "true"})
            if page.name == "theatre-list-pdf" or answer.status_code in (401, 403, 404, 405):
                answer = client.get(page.address)
            for header, value in (
                ("Cache-Control", "no-store"),
                ("X-Content-Type-Options", "nosniff"),
                ("Cross-Origin-Resource-Policy", "same-origin"),
            ):
                if answer.get(header) != value:
                    missing.append((page.name, answer.status_code, header))
            if "unsafe" in answer.get("Content-Security-Policy", "unsafe"):
                missing.append((page.name, answer.status_code, "policy"))
    assert not missing


def test_asking_for_a_page_changes_no_row(world):
    changed, count = [], 0
    for role in ("consultant", "lead", "administrator"):
        client = client_of(world.people[role], list(Patient.objects.all()))
        for page in real_pages(world):
            before = changes()
            with transaction.atomic():
                status = client.get(page.address).status_code
                count += 1
                if changes() != before:
                    changed.append((page.name, role, status))
                transaction.set_rollback(True)
    print(f"{count} pages asked for, {len(changed)} changed something")
    assert not changed


def changes() -> int:
    """How many changes of rows the history knows; looks and drafts have none."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM audit.change_log")
        return int(cursor.fetchone()[0])
