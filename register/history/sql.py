"""The SQL of the history, in one place so that it can be read as a whole.

The functions run with the rights of the owner (SECURITY DEFINER) and a pinned
search_path; the application role can call none of them and only read the log.
Inside such a function `current_user` is the owner and `session_user` the role
that connected: when both are equal, a migration or another job of the owner writes.
"""

SCHEMA = "audit"
TRIGGER = "history"

CHANGE_LOG = """
CREATE TABLE audit.change_log (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    at timestamptz NOT NULL DEFAULT clock_timestamp(),
    session_role text NOT NULL,
    actor text NOT NULL CONSTRAINT change_log_has_an_actor CHECK (actor <> ''),
    actor_id bigint,
    reason text NOT NULL,
    transaction_id bigint NOT NULL,
    table_name text NOT NULL,
    operation text NOT NULL
        CONSTRAINT change_log_operation_known CHECK (operation IN ('INSERT', 'UPDATE', 'DELETE')),
    row_key text NOT NULL,
    old_row jsonb,
    new_row jsonb
)
"""

# TG_ARGV: the key column, then the columns that are withheld.
RECORD_CHANGE = """
CREATE FUNCTION audit.record_change() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = audit, pg_temp AS $body$
DECLARE
    actor text := coalesce(current_setting('app.actor', true), '');
    old_row jsonb := CASE WHEN TG_OP <> 'INSERT' THEN to_jsonb(OLD) END;
    new_row jsonb := CASE WHEN TG_OP <> 'DELETE' THEN to_jsonb(NEW) END;
    row_key text := coalesce(new_row, old_row) ->> TG_ARGV[0];
    withheld text;
    mark text;
BEGIN
    IF actor = '' THEN
        IF session_user <> current_user THEN
            RAISE EXCEPTION 'A change of % needs an actor.', TG_TABLE_NAME
                USING ERRCODE = 'insufficient_privilege',
                      HINT = 'Write inside acting(user, reason).';
        END IF;
        actor := 'migration';
    END IF;
    FOREACH withheld IN ARRAY TG_ARGV[1:] LOOP
        mark := CASE WHEN TG_OP = 'UPDATE' AND old_row -> withheld <> new_row -> withheld
                THEN 'withheld, changed' ELSE 'withheld' END;
        old_row := jsonb_set(old_row, ARRAY[withheld], '"withheld"', false);
        new_row := jsonb_set(new_row, ARRAY[withheld], to_jsonb(mark), false);
    END LOOP;
    INSERT INTO audit.change_log (session_role, actor, actor_id, reason, transaction_id,
                                  table_name, operation, row_key, old_row, new_row)
    VALUES (session_user, actor, nullif(current_setting('app.actor_id', true), '')::bigint,
            coalesce(current_setting('app.reason', true), ''),
            pg_current_xact_id()::text::bigint, TG_TABLE_NAME, TG_OP, row_key, old_row, new_row);
    RETURN NULL;
END
$body$
"""

REFUSE_CHANGE = """
CREATE FUNCTION audit.refuse_change() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = audit, pg_temp AS $body$
BEGIN
    RAISE EXCEPTION 'The history is only added to: % of % refused.', TG_OP, TG_TABLE_NAME
        USING ERRCODE = 'insufficient_privilege';
END
$body$
"""

CREATE_SCHEMA = [
    "CREATE SCHEMA audit",
    "REVOKE ALL ON SCHEMA audit FROM PUBLIC",
    CHANGE_LOG,
    "REVOKE ALL ON audit.change_log FROM PUBLIC",
    "CREATE INDEX change_log_by_row ON audit.change_log (table_name, row_key, id)",
    "CREATE INDEX change_log_by_time ON audit.change_log (at)",
    RECORD_CHANGE,
    REFUSE_CHANGE,
    "REVOKE ALL ON ALL FUNCTIONS IN SCHEMA audit FROM PUBLIC",
    "CREATE TRIGGER only_added_to BEFORE UPDATE OR DELETE OR TRUNCATE ON audit.change_log"
    " FOR EACH STATEMENT EXECUTE FUNCTION audit.refuse_change()",
    "ALTER TABLE audit.change_log ENABLE ALWAYS TRIGGER only_added_to",
]

DROP_SCHEMA = ["DROP SCHEMA audit CASCADE"]

# One link for each sealed row of the log; see chain.py. The application may read it.
CREATE_CHAIN = [
    "CREATE TABLE audit.chain (log_id bigint PRIMARY KEY, digest bytea NOT NULL"
    " CONSTRAINT chain_digest_is_sha256 CHECK (length(digest) = 32))",
    "REVOKE ALL ON audit.chain FROM PUBLIC",
    "CREATE TRIGGER only_added_to BEFORE UPDATE OR DELETE OR TRUNCATE ON audit.chain"
    " FOR EACH STATEMENT EXECUTE FUNCTION audit.refuse_change()",
    "ALTER TABLE audit.chain ENABLE ALWAYS TRIGGER only_added_to",
]
DROP_CHAIN = ["DROP TABLE audit.chain"]

# Which rows ever belonged to a patient, also those that were moved to another one since.
PATIENT_OF_CHANGE = "(coalesce(new_row, old_row) ->> 'patient_id')"
INDEX_PATIENTS = [
    f"CREATE INDEX change_log_by_patient ON audit.change_log ({PATIENT_OF_CHANGE})"
    f" WHERE {PATIENT_OF_CHANGE} IS NOT NULL"
]
DROP_INDEX_PATIENTS = ["DROP INDEX audit.change_log_by_patient"]


def quoted(name: str) -> str:
    """Quote an identifier."""
    return '"' + name.replace('"', '""') + '"'


def literal(value: str) -> str:
    """Quote a string."""
    return "'" + value.replace("'", "''") + "'"


def create_trigger(table: str, *, key: str, redact: tuple[str, ...]) -> list[str]:
    """Return the statements that put a table under history.

    ENABLE ALWAYS: it fires even where session_replication_role silences others.
    """
    arguments = ", ".join(literal(column) for column in (key, *redact))
    return [
        f"CREATE TRIGGER {TRIGGER} AFTER INSERT OR UPDATE OR DELETE ON {quoted(table)}"
        f" FOR EACH ROW EXECUTE FUNCTION audit.record_change({arguments})",
        f"ALTER TABLE {quoted(table)} ENABLE ALWAYS TRIGGER {TRIGGER}",
    ]


def drop_trigger(table: str) -> list[str]:
    """Return the statement that takes a table out of the history."""
    return [f"DROP TRIGGER {TRIGGER} ON {quoted(table)}"]
