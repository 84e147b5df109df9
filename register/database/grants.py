"""What the application role may do, table by table; applied after every migration.

It may read, add and change rows. It empties no table, and deletes only where the
list below says why. The rest is voided, not deleted.
"""

from typing import Any

from django.db import connections, transaction

from register.history.sql import quoted

DELETE_ALLOWED = {
    "django_session": "signing out ends the session; old ones are cleared",
    "register_sharedcache": "counters of tries and used codes run out",
    "register_draft": "unfinished typing goes when the form is saved or given up",
    "axes_accessattempt": "the count of wrong passwords starts again after a right one",
    "axes_accessattemptexpiration": "goes with its attempt",
    "axes_accessfailurelog": "kept for a limited number of entries",
    "axes_accesslog": "kept for a limited number of entries",
    "account_emailconfirmation": "a one-time link is used up",
    "mfa_authenticator": "recovery codes and devices are replaced; the history keeps the fact",
    "register_technique_operators": "an approval is taken away; the history keeps the fact",
}
APPEND_ONLY = {
    "register_accesslog": "who looked at what is never changed",
    "register_formreceipt": "a form that was taken stays taken",
}
READ_ONLY = {
    # Exist only where single sign-on is switched on.
    "socialaccount_socialaccount": "people are matched anew at each sign-in",
    "socialaccount_socialapp": "the provider stands in the settings",
    "socialaccount_socialtoken": "no token is kept",
    "django_migrations": "the owner's record of migrations",
    "django_content_type": "made from the code after each migration",
    "auth_permission": "made from the code after each migration",
}


def apply_grants(using: str, **kwargs: Any) -> None:
    """Give the application role its rights anew; a receiver of `post_migrate`.

    Runs on the owner's connection only, and not after a flush between two tests.
    Nothing is left from earlier grants: all is taken away first, in one transaction.
    """
    if using != "owner" or "plan" not in kwargs:
        return
    with transaction.atomic(using=using), connections[using].cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtext('register grants'))")
        cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
        tables = {row[0] for row in cursor.fetchall()}
        cursor.execute("SELECT to_regnamespace('audit') IS NOT NULL, current_database()")
        has_audit, database = cursor.fetchone()
        role = connections["default"].settings_dict["USER"]
        for statement in statements(role, database, tables, has_audit=has_audit):
            cursor.execute(statement)


def statements(role: str, database: str, tables: set[str], *, has_audit: bool) -> list[str]:
    """Return the GRANT and REVOKE statements, in order."""
    app, name = quoted(role), quoted(database)
    found = [
        f"REVOKE ALL ON DATABASE {name} FROM PUBLIC, {app}",
        f"GRANT CONNECT ON DATABASE {name} TO {app}",
        f"REVOKE ALL ON SCHEMA public FROM PUBLIC, {app}",
        f"GRANT USAGE ON SCHEMA public TO {app}",
        f"REVOKE ALL ON ALL TABLES IN SCHEMA public FROM PUBLIC, {app}",
        f"GRANT SELECT, INSERT, UPDATE ON ALL TABLES IN SCHEMA public TO {app}",
        f"REVOKE ALL ON ALL SEQUENCES IN SCHEMA public FROM PUBLIC, {app}",
        f"GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO {app}",
    ]
    found += [f"GRANT DELETE ON {quoted(t)} TO {app}" for t in DELETE_ALLOWED if t in tables]
    found += [f"REVOKE UPDATE ON {quoted(t)} FROM {app}" for t in APPEND_ONLY if t in tables]
    found += [f"REVOKE INSERT, UPDATE ON {quoted(t)} FROM {app}" for t in READ_ONLY if t in tables]
    if has_audit:
        found += [
            f"REVOKE ALL ON SCHEMA audit FROM PUBLIC, {app}",
            f"REVOKE ALL ON ALL TABLES IN SCHEMA audit FROM PUBLIC, {app}",
            f"REVOKE ALL ON ALL FUNCTIONS IN SCHEMA audit FROM PUBLIC, {app}",
            f"GRANT USAGE ON SCHEMA audit TO {app}",
            f"GRANT SELECT ON ALL TABLES IN SCHEMA audit TO {app}",
        ]
    return found
