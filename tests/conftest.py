"""Fixtures that every test may use. Tests run as the application role."""

import pytest
from django.db import connections
from hypothesis import settings

from register.database.scratch import migrated_template
from register.history import acting

# A busy machine makes one call of a hundred slow; that says nothing about the code.
settings.register_profile("register", deadline=None)
settings.load_profile("register")

TRANSACTIONAL = {"transactional_db", "live_server", "django_db_reset_sequences"}
BOTH = ["default", "owner"]


@pytest.hookimpl(trylast=True)  # after the tests that are left out are gone
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let each test that commits use both connections, and one test in any case.

    The owner's connection empties the tables afterwards. A committing test that
    knows the application role only would leave its rows to the next test, silently.
    Where no test asks for the owner, no test database is made and all would run on
    the real one.

    The browser tests come first: they take longest, and a long test at the end would
    leave the other process idle.
    """
    asked = False
    items.sort(key=lambda item: "browser" not in getattr(item, "fixturenames", ()))
    for item in items:
        marker = item.get_closest_marker("django_db")
        options = dict(marker.kwargs) if marker else {}
        fixtures = set(getattr(item, "fixturenames", ()))
        if options.get("transaction") or TRANSACTIONAL & fixtures:
            options |= {"transaction": True, "databases": BOTH}
            item.add_marker(pytest.mark.django_db(**options), append=False)
            asked = True
        elif (marker or "db" in fixtures) and not asked:
            item.add_marker(pytest.mark.django_db(**options | {"databases": BOTH}), append=False)
            asked = True


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix, django_db_blocker):
    """Copy each test database from a migrated one."""
    with django_db_blocker.unblock():
        connections["owner"].settings_dict["TEST"]["TEMPLATE"] = migrated_template()


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup):
    """Let go of the application role's connection before the test database is dropped."""
    yield
    connections.close_all()


@pytest.fixture
def as_tester():
    """`with as_tester(): ...` writes in the name of the job "test"."""
    return lambda reason="": acting("test", reason)


@pytest.fixture
def acting_tester(db):
    """Write in the name of the job "test" during the whole test."""
    with acting("test"):
        yield
