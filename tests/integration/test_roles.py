"""What the application role cannot do, whatever SQL reaches it."""

import pytest
from django.conf import settings
from django.db import ProgrammingError, connection, connections, transaction
from django.db.utils import DatabaseError

from register.database.grants import APPEND_ONLY, DELETE_ALLOWED, READ_ONLY
from register.history import acting
from tests.integration.people import make_patient

pytestmark = pytest.mark.django_db

FORBIDDEN = {
    "empty a table": "TRUNCATE register_patient",
    "empty a table and all that hang on it": "TRUNCATE register_patient CASCADE",
    "delete a patient": "DELETE FROM register_patient",
    "drop a table": "DROP TABLE register_patient",
    "change a table": "ALTER TABLE register_patient ADD COLUMN n int",
    "own a table": "ALTER TABLE register_patient OWNER TO CURRENT_USER",
    "silence the trigger": "ALTER TABLE register_patient DISABLE TRIGGER history",
    "drop the trigger": "DROP TRIGGER history ON register_patient",
    "drop a constraint": "ALTER TABLE register_patient DROP CONSTRAINT patient_nhs_number_checked",
    "silence all triggers": "SET session_replication_role = replica",
    "make a table": "CREATE TABLE mine (n int)",
    "make a temporary table": "CREATE TEMPORARY TABLE register_patient (n int)",
    "make a schema": "CREATE SCHEMA mine",
    "make a function": "CREATE FUNCTION f() RETURNS int LANGUAGE sql AS 'SELECT 1'",
    "make a role": "CREATE ROLE mine",
    "become the owner": "SET ROLE {owner}",
    "become the owner for the session": "SET SESSION AUTHORIZATION {owner}",
    "read files of the server": "SELECT pg_read_file('postgresql.conf')",
    "run programs": "COPY register_site FROM PROGRAM 'id'",
    "make an event trigger": "CREATE EVENT TRIGGER e ON ddl_command_start EXECUTE FUNCTION f()",
    "pretend a migration": "INSERT INTO django_migrations (app, name, applied)"
    " VALUES ('register', 'x', now())",
    "change who looked": "UPDATE register_accesslog SET page = ''",
}


def role_facts() -> tuple[bool, ...]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT rolsuper, rolcreatedb, rolcreaterole, rolreplication, rolbypassrls"
            " FROM pg_roles WHERE rolname = current_user"
        )
        return cursor.fetchone()


def test_tests_run_as_the_application_role():
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_user, session_user")
        user = settings.DATABASES["default"]["USER"]
        assert cursor.fetchone() == (user, user)
    assert settings.DATABASES["owner"]["USER"] != user


def test_the_application_role_has_no_powers_and_owns_nothing():
    assert role_facts() == (False,) * 5
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_class WHERE pg_get_userbyid(relowner) = current_user"
        )
        assert cursor.fetchone() == (0,)
        cursor.execute(
            "SELECT count(*) FROM pg_auth_members m JOIN pg_roles r ON r.oid = m.member"
            " WHERE r.rolname = current_user"
        )
        assert cursor.fetchone() == (0,)


@pytest.mark.parametrize("statement", FORBIDDEN.values(), ids=FORBIDDEN.keys())
def test_the_application_role_cannot(statement):
    statement = statement.replace("{owner}", settings.DATABASES["owner"]["USER"])
    with (
        acting("test"),
        pytest.raises(ProgrammingError, match=r"permission denied|must be owner|must be superuser"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement)


@pytest.mark.django_db(transaction=True)
def test_the_application_role_cannot_change_the_server():
    with pytest.raises(ProgrammingError, match="permission denied"), connection.cursor() as cursor:
        cursor.execute("ALTER SYSTEM SET fsync = off")


def test_it_may_do_what_pages_do():
    with acting("test"):
        patient = make_patient()
        patient.care_home = "Alder Lodge"
        patient.save()
    patient.refresh_from_db()
    assert patient.care_home == "Alder Lodge"


def test_the_right_to_delete_is_exactly_the_written_list():
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT tablename,"
            " has_table_privilege(format('public.%I', tablename)::regclass, 'DELETE'),"
            " has_table_privilege(format('public.%I', tablename)::regclass, 'TRUNCATE'),"
            " has_table_privilege(format('public.%I', tablename)::regclass, 'UPDATE'),"
            " has_table_privilege(format('public.%I', tablename)::regclass, 'INSERT')"
            " FROM pg_tables WHERE schemaname = 'public'"
        )
        rights = {row[0]: row[1:] for row in cursor.fetchall()}
    read_only = set(READ_ONLY) & set(rights)  # some exist with single sign-on only
    assert {table for table, right in rights.items() if right[0]} == set(DELETE_ALLOWED)
    assert {table for table, right in rights.items() if right[1]} == set()
    assert {table for table, right in rights.items() if not right[2]} == {*APPEND_ONLY, *read_only}
    assert {table for table, right in rights.items() if not right[3]} == read_only


@pytest.mark.django_db(databases=["default", "owner"])
def test_grants_that_somebody_added_by_hand_are_gone_after_a_migration():
    from register.database.grants import apply_grants

    role = settings.DATABASES["default"]["USER"]
    with connections["owner"].cursor() as cursor:
        cursor.execute(f'GRANT TRUNCATE ON register_patient TO "{role}"')
        cursor.execute("GRANT DELETE ON register_patient TO PUBLIC")
        apply_grants(using="owner", plan=[])
        cursor.execute(
            "SELECT has_table_privilege(%s, 'register_patient', 'TRUNCATE, DELETE')", [role]
        )
        assert cursor.fetchone() == (False,)


def test_the_owner_is_no_superuser_either():
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT rolsuper, rolcreaterole, rolcreatedb FROM pg_roles WHERE rolname = %s",
            [settings.DATABASES["owner"]["USER"]],
        )
        assert cursor.fetchone() == (False, False, True)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("turn", [1, 2, 3])
def test_committed_rows_never_reach_the_next_test(turn):
    """Runs three times: a later run would meet the patient of the one before."""
    with acting("test"):
        make_patient()
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM register_patient")
        assert cursor.fetchone() == (1,)


def test_a_refused_write_is_an_error_of_the_database():
    """Pages catch DatabaseError; a refusal must be one."""
    with pytest.raises(DatabaseError), transaction.atomic():
        make_patient()
