"""The register refuses to start on a database that could lose what was saved."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import psycopg
import pytest
from django.core.checks import Warning
from django.db import connection

from register.database import guard, place
from register.database.addresses import roles_beside
from register.database.cluster import Cluster
from register.database.guard import Server, dangers, refuse_unsafe_database
from register.database.roles import ensure_roles
from register.database.state import SetupError
from tests.integration import clusters
from tests.integration.clusters import ask

SAFE = Server(
    fsync="on",
    full_page_writes="on",
    synchronous_commit="on",
    data_checksums="on",
    time_zone="UTC",
    powerful=False,
    owned=0,
    version=150000,
)
UNSAFE = {
    "fsync": "off",
    "full_page_writes": "off",
    "synchronous_commit": "local",
    "data_checksums": "off",
    "time_zone": "Europe/London",
    "powerful": True,
    "owned": 1,
    "version": 140009,
}
CODES = {"powerful": "powerful_role", "owned": "owning_role"}


def test_a_safe_server_has_no_danger():
    assert dangers(SAFE) == []
    assert dangers(replace(SAFE, synchronous_commit="remote_apply", time_zone="Etc/UTC")) == []


@pytest.mark.parametrize("field", UNSAFE)
def test_each_danger_is_found_alone_and_comes_with_advice(field):
    (danger,) = dangers(replace(SAFE, **{field: UNSAFE[field]}))
    assert danger.code == CODES.get(field, field)
    assert danger.advice.endswith(".")


@pytest.mark.django_db
def test_the_server_of_the_tests_is_safe():
    tolerated = refuse_unsafe_database(connection)
    assert {danger.code for danger in tolerated} <= {"data_checksums"}


@pytest.mark.django_db
def test_missing_checksums_are_tolerated_in_a_trial_only(settings, monkeypatch):
    monkeypatch.setattr(guard, "look", lambda _: replace(SAFE, data_checksums="off"))
    assert [d.code for d in refuse_unsafe_database()] == ["data_checksums"]
    settings.REGISTER_DEMO = False
    with pytest.raises(SetupError, match="pg_checksums --enable"):
        refuse_unsafe_database()


@pytest.mark.django_db
def test_the_system_check_says_the_same(monkeypatch):
    monkeypatch.setattr(guard, "look", lambda *_: replace(SAFE, data_checksums="off", fsync="off"))
    found = guard.check_database(databases=["default"])
    assert [message.id for message in found] == ["register.fsync", "register.data_checksums"]
    assert isinstance(found[1], Warning)
    assert guard.check_database(databases=None) == []


# -- seven real boots ------------------------------------------------------------


@pytest.fixture(scope="module")
def trial():
    """A cluster of its own with both roles, not running."""
    with clusters.state_folder() as state:
        cluster = Cluster(state)
        cluster.hold()
        addresses = roles_beside(cluster.superuser(), state, embedded=True)
        ensure_roles(addresses)
        cluster.release()
        yield cluster, addresses


def refusal(addresses) -> str:
    """Start on this server as the application role; return the message, '' when it starts."""
    with psycopg.connect(addresses.application.conninfo()) as connection:
        try:
            refuse_unsafe_database(connection)
        except SetupError as refused:
            return str(refused)
    return ""


@contextmanager
def without_zone_of_its_own(cluster: Cluster, role: str) -> Iterator[None]:
    """Take the role's own time zone away, so that the server's counts."""
    for_role = f'ALTER ROLE "{role}"'
    with held(cluster):
        ask(cluster, f"{for_role} RESET timezone")
    yield
    with held(cluster):
        ask(cluster, f"{for_role} SET timezone = 'UTC'")


@contextmanager
def held(cluster: Cluster) -> Iterator[Cluster]:
    """Run a cluster for a block."""
    cluster.hold()
    try:
        yield cluster
    finally:
        cluster.release()


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("fsync", "off"),
        ("full_page_writes", "off"),
        ("synchronous_commit", "off"),
        ("synchronous_commit", "remote_write"),
        ("timezone", "Europe/London"),
    ],
)
def test_it_does_not_start_with_an_unsafe_setting(trial, name, value):
    cluster, addresses = trial
    unsafe = Cluster(cluster.state, settings={name: value})
    with without_zone_of_its_own(cluster, addresses.application.user), held(unsafe):
        message = refusal(addresses)
    assert message.startswith("The register does not start on this database")
    assert name.replace("timezone", "time zone") in message
    assert message.count("\n") == 2  # this danger alone


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("ALTER ROLE {app} SUPERUSER", "ALTER ROLE {app} NOSUPERUSER", "superuser"),
        ("CREATE TABLE t (n int); ALTER TABLE t OWNER TO {app}", "DROP TABLE t", "owns tables"),
        (
            "CREATE TABLE t (n int); ALTER TABLE t OWNER TO {owner}; GRANT {owner} TO {app}",
            "REVOKE {owner} FROM {app}; DROP TABLE t",
            "belongs to the role that does",
        ),
    ],
)
def test_it_does_not_start_with_an_unsafe_role(trial, before, after, words):
    cluster, addresses = trial
    names = {"app": f'"{addresses.application.user}"', "owner": f'"{addresses.owner.user}"'}
    database = cluster.superuser(addresses.application.name).conninfo()
    with held(cluster), psycopg.connect(database, autocommit=True) as superuser:
        assert refusal(addresses) == ""
        superuser.execute(before.format(**names))
        message = refusal(addresses)
        superuser.execute(after.format(**names))
    assert words in message


def test_a_live_site_does_not_start_without_checksums(trial, settings):
    cluster, addresses = trial
    account = place.server_account()
    program = place.binaries(cluster.place, account) / "pg_checksums"
    switch = [str(program), "--no-sync", "-D", str(cluster.place.data)]
    assert account.run([*switch, "--disable"]).returncode == 0
    with held(cluster):
        assert refusal(addresses) == ""
        settings.REGISTER_DEMO = False
        message = refusal(addresses)
    assert account.run([*switch, "--enable"]).returncode == 0
    assert "keeps no page checksums" in message


def test_the_web_entry_itself_refuses(trial):
    """The real entry, in a process of its own, on a server without fsync."""
    cluster, _ = trial
    environment = os.environ | {
        "REGISTER_STATE": str(cluster.state),
        "DJANGO_SETTINGS_MODULE": "register.config.settings",
    }
    for elsewhere in ("DATABASE_URL", "REGISTER_APP_URL", "REGISTER_OWNER_URL"):
        environment.pop(elsewhere, None)
    with held(Cluster(cluster.state, settings={"fsync": "off"})):
        done = subprocess.run(
            [sys.executable, "-c", "import register.config.wsgi"],
            cwd=clusters.BASE,
            env=environment,
            capture_output=True,
            text=True,
        )
    assert done.returncode != 0
    assert "fsync is off: a power cut loses saved records." in done.stderr
