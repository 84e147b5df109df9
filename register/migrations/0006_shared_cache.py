"""The table of the shared cache: counters of tries, and codes that were used."""

from django.db import migrations

CREATE = """
CREATE TABLE register_sharedcache (
    cache_key varchar(255) PRIMARY KEY,
    value text NOT NULL,
    expires timestamptz NOT NULL
);
CREATE INDEX register_sharedcache_expires ON register_sharedcache (expires);
"""


class Migration(migrations.Migration):
    """A used code has to be refused by every server process, so it is kept in the database."""

    dependencies = [("register", "0005_the_record_in_depth")]

    operations = [migrations.RunSQL(CREATE, "DROP TABLE register_sharedcache")]
