"""How the two roles come to be, on a server that others administer."""

from dataclasses import replace

import psycopg
import pytest

from register.database.addresses import Address, Addresses, roles_beside
from register.database.cluster import Cluster
from register.database.roles import ensure_roles, opens
from register.database.state import SetupError
from tests.integration import clusters
from tests.integration.clusters import ask


@pytest.fixture(scope="module")
def server():
    with clusters.state_folder() as state:
        cluster = Cluster(state)
        cluster.hold()
        ask(cluster, "CREATE ROLE helper LOGIN CREATEROLE CREATEDB PASSWORD 'helping'")
        ask(cluster, "CREATE ROLE weak LOGIN PASSWORD 'weak'")
        yield cluster
        cluster.release()


@pytest.fixture
def wanted(server) -> Addresses:
    """What is to be made, by an administrator who is no superuser."""
    return roles_beside(administrator(server, "helper", "helping"), server.state, embedded=False)


@pytest.fixture(autouse=True)
def clean(server):
    yield
    ask(server, "DROP DATABASE IF EXISTS register WITH (FORCE)")
    for role in ("register_owner", "register_application"):
        ask(server, f"DROP ROLE IF EXISTS {role}")


def administrator(cluster: Cluster, user: str, password: str) -> Address:
    return replace(cluster.superuser(), user=user, password=password)


def test_an_administrator_who_is_no_superuser_makes_both(server, wanted):
    ensure_roles(wanted)
    assert opens(wanted.owner)
    assert opens(wanted.application)
    rights = "SELECT array[rolsuper, rolcreaterole, rolcreatedb]::text FROM pg_roles WHERE rolname"
    assert ask(server, f"{rights} = 'register_owner'") == "{f,f,t}"
    assert ask(server, f"{rights} = 'register_application'") == "{f,f,f}"
    owner = "SELECT pg_get_userbyid(datdba) FROM pg_database WHERE datname = 'register'"
    assert ask(server, owner) == "register_owner"
    members = "SELECT pg_has_role('helper', 'register_owner', 'SET')"
    assert ask(server, members) == "False"


def test_a_second_time_nothing_is_asked_of_the_administrator(wanted):
    ensure_roles(wanted)
    ensure_roles(replace(wanted, administrator=None))


def test_a_lost_password_is_renewed(wanted):
    ensure_roles(wanted)
    renewed = replace(wanted, application=replace(wanted.application, password="another one"))
    ensure_roles(renewed)
    assert opens(renewed.application)
    assert not opens(wanted.application)


def test_a_role_that_another_installation_uses_now_is_not_taken_from_it(wanted):
    ensure_roles(wanted)
    foreign = replace(wanted, application=replace(wanted.application, password="another one"))
    with (
        psycopg.connect(wanted.application.conninfo()),
        pytest.raises(SetupError, match="in use, probably by another installation") as refused,
    ):
        ensure_roles(foreign)
    assert "another one" not in str(refused.value)
    assert opens(wanted.application)


def test_a_weak_administrator_is_told_what_is_missing(server, wanted):
    with pytest.raises(SetupError, match="Give it CREATEROLE and CREATEDB"):
        ensure_roles(replace(wanted, administrator=administrator(server, "weak", "weak")))


def test_a_server_that_is_not_there_is_said_without_its_password(wanted):
    gone = replace(wanted.administrator, host="/nowhere", password="topsecret")
    broken = Addresses(replace(wanted.application, host="/nowhere"), gone, gone, embedded=False)
    with pytest.raises(SetupError, match="cannot be reached") as refused:
        ensure_roles(broken)
    assert "topsecret" not in str(refused.value)


def test_roles_made_by_hand_must_open(wanted):
    with pytest.raises(SetupError, match="Check REGISTER_APP_URL and REGISTER_OWNER_URL"):
        ensure_roles(replace(wanted, administrator=None))
