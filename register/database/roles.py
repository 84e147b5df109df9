"""The two roles: the owner of the tables, and the application, which owns nothing.

They are made here by an administrator's connection, never by a migration:

- owner: runs migrations, owns database and tables, may create databases (for the
  tests). No superuser, cannot make roles.
- application: what the pages use. Rights on tables are in `grants.py`.
"""

import psycopg
from psycopg import sql

from register.database.addresses import Address, Addresses
from register.database.state import SetupError

OLDEST = 150000  # before 15 everybody could create objects in the public schema
SAFE_FOR_ALL = "NOSUPERUSER NOCREATEROLE NOREPLICATION NOBYPASSRLS LOGIN"
# INHERIT: before 16 the owner of a database has its rights on the schema only through that.
OWNER = "CREATEDB INHERIT"
APPLICATION = "NOCREATEDB NOINHERIT"


def ensure_roles(addresses: Addresses) -> None:
    """Make roles and database when they are missing; does nothing when both roles get in."""
    if opens(addresses.owner) and opens(addresses.application):
        return
    if addresses.administrator is None:
        raise SetupError(
            "The database did not let both roles in. Check REGISTER_APP_URL and "
            "REGISTER_OWNER_URL, and that the server runs."
        )
    try:
        with psycopg.connect(addresses.administrator.conninfo(), autocommit=True) as connection:
            make_all(connection, addresses)
    except psycopg.OperationalError as refused:
        raise SetupError(f"The database cannot be reached: {first_line(refused)}") from refused
    except psycopg.errors.InsufficientPrivilege as refused:
        raise SetupError(
            "The role in DATABASE_URL may not create roles and databases: "
            f"{first_line(refused)}. Give it CREATEROLE and CREATEDB, or make both roles by "
            "hand and set REGISTER_APP_URL and REGISTER_OWNER_URL."
        ) from refused


def opens(address: Address) -> bool:
    """Tell whether the address lets us in."""
    try:
        psycopg.connect(address.conninfo(), connect_timeout=5).close()
    except psycopg.OperationalError:
        return False
    return True


def make_all(connection: psycopg.Connection, addresses: Addresses) -> None:
    """Make what is missing, as the administrator."""
    if connection.info.server_version < OLDEST:
        raise SetupError("This server is older than PostgreSQL 15. Use 15 or newer.")
    make_role(connection, addresses.owner, OWNER)
    make_role(connection, addresses.application, APPLICATION)
    make_database(connection, addresses)


def make_role(connection: psycopg.Connection, address: Address, extra: str) -> None:
    """Make one role, or give an existing one its password and rights anew."""
    role = sql.Identifier(address.user)
    exists = value(connection, "SELECT 1 FROM pg_roles WHERE rolname = %s", address.user)
    if exists:
        refuse_if_in_use(connection, address)
    # An administrator who is no superuser may not even repeat NOSUPERUSER; guard.py checks it.
    verb, rights = ("ALTER", "LOGIN") if exists else ("CREATE", SAFE_FOR_ALL)
    connection.execute(
        sql.SQL("{} ROLE {} WITH {} PASSWORD {}").format(
            sql.SQL(verb), role, sql.SQL(f"{rights} {extra}"), sql.Literal(address.password)
        )
    )
    connection.execute(sql.SQL("ALTER ROLE {} SET timezone = 'UTC'").format(role))


def refuse_if_in_use(connection: psycopg.Connection, address: Address) -> None:
    """Refuse to take a role away from another installation that works with it now."""
    question = "SELECT count(*) FROM pg_stat_activity WHERE usename = %s"
    if value(connection, question, address.user) and not opens(address):
        raise SetupError(
            f"The role {address.user!r} exists with another password and is in use, "
            "probably by another installation on this server. Choose another name with "
            "REGISTER_DATABASE, or set REGISTER_APP_URL and REGISTER_OWNER_URL."
        )


def make_database(connection: psycopg.Connection, addresses: Addresses) -> None:
    """Make the database of the owner, closed to everybody else."""
    name, owner = addresses.owner.name, addresses.owner.user
    if value(connection, "SELECT 1 FROM pg_database WHERE datname = %s", name):
        return
    helper = not value(connection, "SELECT usesuper FROM pg_user WHERE usename = current_user")
    if helper:  # who is no superuser must belong to the role that will own the database
        connection.execute(sql.SQL("GRANT {} TO CURRENT_USER").format(sql.Identifier(owner)))
    connection.execute(
        sql.SQL("CREATE DATABASE {} OWNER {} TEMPLATE template0 ENCODING 'UTF8'").format(
            sql.Identifier(name), sql.Identifier(owner)
        )
    )
    if helper:
        connection.execute(sql.SQL("REVOKE {} FROM CURRENT_USER").format(sql.Identifier(owner)))


def value(connection: psycopg.Connection, question: str, *arguments: object) -> object:
    """Return the first column of the first row, or None."""
    row = connection.execute(question, arguments).fetchone()
    return row[0] if row else None


def first_line(error: Exception) -> str:
    """Return the first line of a server's message, which holds no password."""
    return (str(error).strip().splitlines() or ["no answer"])[0]
