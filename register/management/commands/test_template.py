"""`test_template`: migrate the empty database that every test run copies."""

from typing import Any

from django.core.management.base import BaseCommand

from register.database.scratch import migrated_template


class Command(BaseCommand):
    help = "Make the database that test runs copy, if it is missing. They make it themselves, too."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(migrated_template())
