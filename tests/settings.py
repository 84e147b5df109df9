"""Settings of the tests: the register's own, on a test database, as the application role."""

import os

os.environ.setdefault("REGISTER_MODE", "test")

from register.database.prepare import database_ready

database_ready()

from register.config.settings import *  # noqa: E402, F403
from register.config.settings import DATABASES  # noqa: E402

# The fast hasher is for tests only; the people in them are invented.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
for entry in DATABASES.values():
    entry["CONN_MAX_AGE"] = 0

# A name of its own for each run, so that two runs on one server do not meet.
DATABASES["owner"]["TEST"] = {"NAME": f"test_register_{os.getpid()}", "DEPENDENCIES": []}
