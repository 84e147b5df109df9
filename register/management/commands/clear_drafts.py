"""`clear_drafts`: forget unfinished typing that nobody has touched for long; run it daily."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from register.services.drafts import drafts_clear


class Command(BaseCommand):
    help = "Forget unfinished entries that nobody has touched for REGISTER_DRAFT_DAYS (14) days."

    def handle(self, *args: Any, **options: Any) -> None:
        number = drafts_clear()
        self.stdout.write(f"{number} unfinished entries older than {settings.DRAFT_DAYS} days.")
