"""Every change is in the history, with a name; nobody can change the history."""

import threading

import pytest
from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, ProgrammingError, connection, connections, transaction

from register.history import acting
from register.history.exempt import EXEMPT, SINGLE_SIGN_ON
from register.history.operations import HistoryTrigger
from register.history.reading import changes_of, changes_of_row
from register.models import Patient, Site, User
from tests.integration.people import make_patient, make_site, make_user

pytestmark = pytest.mark.django_db


def run(statement: str, *values: object) -> list[tuple]:
    with connection.cursor() as cursor:
        cursor.execute(statement, values or None)
        return cursor.fetchall() if cursor.description else []


def last(row) -> "object":
    return changes_of_row(row)[-1]


# -- every way to write ---------------------------------------------------------

WAYS = {
    "save": lambda patient: (setattr(patient, "care_home", "New"), patient.save()),
    "update": lambda patient: Patient.objects.filter(pk=patient.pk).update(care_home="New"),
    "bulk_update": lambda patient: (
        setattr(patient, "care_home", "New"),
        Patient.objects.bulk_update([patient], ["care_home"]),
    ),
    "raw SQL": lambda patient: run("UPDATE register_patient SET care_home = 'New'"),
    "merge": lambda patient: run(
        "MERGE INTO register_patient p USING (VALUES (1)) v (n) ON true"
        " WHEN MATCHED THEN UPDATE SET care_home = 'New'"
    ),
    "upsert": lambda patient: Patient.objects.bulk_create(
        [Patient(**{f.attname: getattr(patient, f.attname) for f in Patient._meta.concrete_fields}
                 | {"care_home": "New"})],
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=["care_home"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS.keys())
def test_every_way_to_change_a_row_leaves_old_and_new(way):
    with acting("setup"):
        patient = make_patient(care_home="Old")
    with acting("night job", "moved house"):
        way(patient)
    first, change = changes_of_row(patient)
    assert (first.operation, first.old, first.new["care_home"]) == ("INSERT", None, "Old")
    assert change.operation == "UPDATE"
    assert change.fields["care_home"] == ("Old", "New")
    assert (change.actor, change.actor_id, change.reason) == ("night job", None, "moved house")


def test_rows_made_in_bulk_and_rows_deleted_are_there_too():
    with acting("test"):
        user, site = make_user(), make_site()
        sites = Site.objects.bulk_create(Site(name=f"Site {n}", code=f"s{n}") for n in range(3))
        user.groups.model.objects.all()
        draft_free = [changes_of_row(row)[0].operation for row in sites]
    assert draft_free == ["INSERT"] * 3
    assert changes_of_row(site)[0].new["code"] == "harrowmere"
    with acting("test"):
        run("INSERT INTO mfa_authenticator (user_id, type, data, created_at)"
            " VALUES (%s, 'totp', '{}', now())", user.pk)  # fmt: skip
        key = run("DELETE FROM mfa_authenticator RETURNING id")[0][0]
    made, gone = changes_of("mfa_authenticator", key)
    assert (gone.operation, gone.new) == ("DELETE", None)
    assert gone.old["user_id"] == made.new["user_id"] == user.pk


def test_a_user_is_stored_by_name_and_number_and_the_time_is_the_servers():
    with acting("setup"):
        user = make_user()
    with acting(user, "first visit"):
        patient = make_patient()
    change = last(patient)
    assert (change.actor, change.actor_id) == ("b.lindqvist", user.pk)
    assert run("SELECT abs(extract(epoch FROM clock_timestamp() - %s)) < 60", change.at) == [
        (True,)
    ]
    assert run("SELECT DISTINCT session_role FROM audit.change_log WHERE actor <> 'migration'") == [
        (settings.DATABASES["default"]["USER"],)
    ]


def test_numbers_stay_exact():
    with acting("test"):
        run("INSERT INTO register_site (name, code, urgent_instruction) VALUES ('12.50', 'x', '')")
        key = run("SELECT id FROM register_site WHERE code = 'x'")[0][0]
    assert changes_of("register_site", key)[0].new["name"] == "12.50"


# -- who acts ---------------------------------------------------------------------


def refused(write) -> None:
    with pytest.raises(DatabaseError, match="needs an actor"), transaction.atomic():
        write()


def test_a_write_without_an_actor_is_refused():
    refused(make_patient)


def test_an_empty_actor_counts_as_none():
    run("SELECT set_config('app.actor', '', true)")
    refused(make_patient)


def test_an_actor_ends_with_its_block():
    with acting("test"):
        make_patient("H1")
    refused(lambda: make_patient("H2"))


def test_a_failed_block_takes_its_actor_along():
    with pytest.raises(RuntimeError), acting("test"):
        raise RuntimeError
    refused(make_patient)


@pytest.mark.django_db(transaction=True)
def test_a_connection_forgets_the_actor_between_transactions():
    with acting("test", "why"):
        make_patient("H1")
    names = "current_setting('app.actor', true), current_setting('app.reason', true)"
    assert run(f"SELECT coalesce(a, ''), coalesce(r, '') FROM (SELECT {names}) x (a, r)") == [
        ("", "")
    ]
    refused(lambda: make_patient("H2"))


def test_blocks_nest_and_the_former_actor_returns():
    with acting("outer", "outer reason"):
        with acting("inner", "inner reason"):
            inner = make_patient("H1")
        after = make_patient("H2")
        with pytest.raises(ValueError, match="x"), acting("failing"):
            raise ValueError("x")
        still = make_patient("H3")
    assert [(last(row).actor, last(row).reason) for row in (inner, after, still)] == [
        ("inner", "inner reason"),
        ("outer", "outer reason"),
        ("outer", "outer reason"),
    ]


def test_a_block_undoes_its_writes_when_it_fails():
    with acting("outer"):
        with pytest.raises(DatabaseError), acting("inner"):  # noqa: PT012
            make_patient("H1")
            run("SELECT 1 / 0")
        assert not Patient.objects.exists()


def test_a_block_whose_transaction_is_given_up_does_not_complain():
    with acting("outer"), transaction.atomic(), acting("inner"):
        transaction.set_rollback(True)


@pytest.mark.parametrize("nobody", ["", "  ", None, User(username="unsaved")])
def test_nobody_cannot_act(nobody):
    with pytest.raises(ValueError, match="needs an actor"), acting(nobody):
        pass


@pytest.mark.django_db(transaction=True)
def test_two_connections_do_not_share_an_actor():
    problems = []

    def other():
        try:
            refused(lambda: Site.objects.create(name="Other", code="other"))
        except BaseException as problem:  # the thread's failure must reach the test
            problems.append(problem)
        finally:
            connection.close()

    with acting("test"):
        make_patient("H1")
        thread = threading.Thread(target=other)
        thread.start()
        thread.join()
    assert problems == []


@pytest.mark.django_db(databases=["default", "owner"])
def test_rows_of_the_owner_are_named_migration_unless_he_says_who():
    with connections["owner"].cursor() as cursor:
        cursor.execute(
            "INSERT INTO register_site (name, code, urgent_instruction) VALUES ('A', 'a', '')"
        )
        with acting("repair", "ticket", using="owner"):
            cursor.execute("UPDATE register_site SET name = 'B' WHERE code = 'a' RETURNING id")
            key = cursor.fetchone()[0]
    assert [c.actor for c in changes_of("register_site", key, using="owner")] == [
        "migration",
        "repair",
    ]


# -- completeness and secrets --------------------------------------------------------


def test_every_table_has_the_trigger_or_a_written_reason():
    rows = run(
        "SELECT c.relname, EXISTS (SELECT FROM pg_trigger t WHERE t.tgrelid = c.oid"
        " AND t.tgname = 'history' AND t.tgenabled = 'A'"
        " AND t.tgfoid = 'audit.record_change'::regproc)"
        " FROM pg_class c WHERE c.relkind IN ('r', 'p') AND c.relnamespace = 'public'::regnamespace"
    )
    absent = set() if apps.is_installed("allauth.socialaccount") else set(SINGLE_SIGN_ON)
    assert {table for table, recorded in rows if not recorded} == set(EXEMPT) - absent
    assert all(EXEMPT.values())


SECRET_WORDS = ("password", "secret", "token", "session_key", "data", "content")


def test_columns_that_sound_secret_are_withheld():
    columns = run(
        "SELECT c.relname, a.attname, pg_get_triggerdef(t.oid) FROM pg_trigger t"
        " JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_attribute a ON a.attrelid = c.oid"
        " WHERE t.tgname = 'history' AND a.attnum > 0"
    )
    sounding = [
        (table, column)
        for table, column, definition in columns
        if column in SECRET_WORDS and f"'{column}'" not in definition
    ]
    assert sounding == []


def test_a_password_never_reaches_the_history_but_its_change_does():
    with acting("setup"):
        user = make_user()
        user.set_password("a second one")
        user.save()
        user.job_title = "Consultant"
        user.save()
        run("INSERT INTO mfa_authenticator (user_id, type, data, created_at)"
            " VALUES (%s, 'totp', '{\"secret\": \"JBSWY3DP\"}', now())", user.pk)  # fmt: skip
    marks = [change.new["password"] for change in changes_of_row(user)]
    assert marks == ["withheld", "withheld, changed", "withheld"]
    log = run("SELECT string_agg(coalesce(old_row::text, '') || coalesce(new_row::text, ''), '')"
              " FROM audit.change_log")[0][0]  # fmt: skip
    assert user.password not in log
    assert "md5$" not in log
    assert "JBSWY3DP" not in log


# -- attacks -------------------------------------------------------------------------

ATTACKS = {
    "change": "UPDATE audit.change_log SET actor = 'nobody'",
    "delete": "DELETE FROM audit.change_log",
    "empty": "TRUNCATE audit.change_log",
    "empty with all": "TRUNCATE register_patient CASCADE",
    "forge": "INSERT INTO audit.change_log (session_role, actor, reason, transaction_id,"
    " table_name, operation, row_key) VALUES ('x', 'x', '', 1, 'x', 'INSERT', '1')",
    "drop": "DROP TABLE audit.change_log",
    "disable": "ALTER TABLE register_patient DISABLE TRIGGER ALL",
    "replica": "SET session_replication_role = 'replica'",
    "shadow": "CREATE TEMPORARY TABLE change_log (id int)",
    "call": "SELECT audit.record_change()",
    "rewrite": "CREATE OR REPLACE FUNCTION audit.record_change() RETURNS trigger"
    " LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'",
    "borrow": "CREATE TRIGGER mine AFTER INSERT ON register_draft"
    " FOR EACH ROW EXECUTE FUNCTION audit.record_change('id')",
    "sequence": "SELECT setval('audit.change_log_id_seq', 1)",
    "copy": "COPY audit.change_log FROM STDIN",
    "lock": "LOCK TABLE audit.change_log IN ACCESS EXCLUSIVE MODE",
    "forge a link": "INSERT INTO audit.chain VALUES (1, decode(repeat('00', 32), 'hex'))",
    "change the chain": "UPDATE audit.chain SET digest = decode(repeat('00', 32), 'hex')",
    "cut the chain": "DELETE FROM audit.chain",
}


@pytest.mark.parametrize("attack", ATTACKS.values(), ids=ATTACKS.keys())
def test_the_history_resists(attack):
    with acting("test"):
        make_patient()
    before = run("SELECT * FROM audit.change_log ORDER BY id")
    with (
        acting("attacker"),
        pytest.raises(
            ProgrammingError, match=r"permission denied|must be owner|only be called as triggers"
        ),
        transaction.atomic(),
    ):
        run(attack)
    assert run("SELECT * FROM audit.change_log ORDER BY id") == before


TRICKS = {
    "search path": "SET LOCAL search_path = pg_temp, public",
    "no search path": "SET LOCAL search_path = ''",
    "ignore": "SELECT set_config('pgtrigger.ignore', '{history}', true)",
    "row security": "SET LOCAL row_security = off",
    "constraints": "SET CONSTRAINTS ALL DEFERRED",
}
# What somebody who can run SQL as the application would try first; common practice, no source.
THE_TWELVE = {
    "change", "delete", "empty", "empty with all", "forge", "drop", "disable", "replica",
    "ignore", "shadow", "call", "search path",
}  # fmt: skip


def test_the_twelve_attacks_are_all_tried():
    assert len(THE_TWELVE) == 12
    assert {*ATTACKS, *TRICKS} >= THE_TWELVE


@pytest.mark.parametrize("trick", TRICKS.values(), ids=TRICKS.keys())
def test_settings_do_not_switch_the_history_off(trick):
    with acting("test"), transaction.atomic():
        patient = make_patient()
        run(trick)
        run("UPDATE public.register_patient SET care_home = 'Elsewhere' WHERE id = %s", patient.pk)
        run("SET LOCAL search_path = public")
    assert last(patient).fields["care_home"] == ("", "Elsewhere")


@pytest.mark.django_db(databases=["default", "owner"])
@pytest.mark.parametrize("slip", ["UPDATE audit.change_log SET actor = 'x'",
                                  "DELETE FROM audit.change_log",
                                  "TRUNCATE audit.change_log",
                                  "TRUNCATE audit.chain"])  # fmt: skip
def test_even_the_owner_does_not_change_the_history_by_a_slip(slip):
    with (
        pytest.raises(ProgrammingError, match="only added to"),
        transaction.atomic(using="owner"),
        connections["owner"].cursor() as cursor,
    ):
        cursor.execute(slip)


# -- the migration operation ------------------------------------------------------------


@pytest.mark.django_db(databases=["default", "owner"])
def test_the_operation_can_be_taken_back_and_made_again():
    owner = connections["owner"]
    operation = HistoryTrigger("register_draft", redact=("data",))
    with owner.schema_editor() as editor, owner.cursor() as cursor:
        question = (
            "SELECT tgenabled FROM pg_trigger WHERE tgname = 'history' AND tgrelid = %s::regclass"
        )
        for direction, found in (
            (operation.database_forwards, [("A",)]),
            (operation.database_backwards, []),
        ):
            direction("register", editor, None, None)
            cursor.execute(question, ["register_draft"])
            assert cursor.fetchall() == found


def test_the_operation_writes_itself_into_a_migration():
    operation = HistoryTrigger("some_table", redact=("secret",), key="code")
    name, arguments, options = operation.deconstruct()
    assert name == "HistoryTrigger"
    assert HistoryTrigger(*arguments, **options).__dict__ == operation.__dict__
