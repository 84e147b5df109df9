"""`import_file KIND FILE --user NAME`: a file from the command line, as from the page."""

from argparse import ArgumentParser
from pathlib import Path
from time import monotonic
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.timezone import localdate

from register.imports.dates import ORDERS
from register.imports.decoding import FileRefused
from register.imports.kinds import KINDS
from register.imports.verdicts import COUNTED
from register.models import FileImport, User
from register.permissions import may
from register.selectors.imports import Preview, preview_of, question_of
from register.services.imports import (
    ImportRefused,
    PreviewOutdated,
    import_confirm,
    import_keep,
)


class Command(BaseCommand):
    help = "Keeps a file, tells what would become of its rows, and writes them with --confirm."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("kind", choices=sorted(KINDS))
        parser.add_argument("file", type=Path)
        parser.add_argument("--user", required=True, help="user name of whoever sends it in")
        parser.add_argument("--date-order", choices=sorted(ORDERS), default="dmy")
        parser.add_argument("--confirm", action="store_true", help="write what the preview shows")

    def handle(self, **options: Any) -> None:
        user = _user(options["user"])
        began = monotonic()
        kept = self._keep(user, options)
        preview = self._preview(kept)
        self._tell(preview)
        self.stdout.write(f"Read and compared in {monotonic() - began:.1f} s.")
        if not options["confirm"]:
            self.stdout.write("Nothing was written. Add --confirm to write, or use the page.")
        elif not preview.to_write:
            self.stdout.write("No row brings anything new. Nothing was written.")
        else:
            self._confirm(kept, user, preview.seal)

    def _keep(self, user: User, options: dict[str, Any]) -> FileImport:
        assert user.site is not None
        try:
            kept = import_keep(
                site=user.site,
                user=user,
                file_name=options["file"].name,
                content=options["file"].read_bytes(),
                date_order=options["date_order"],
                kind=options["kind"],
                today=localdate(),
            )
        except (FileRefused, OSError) as error:
            raise CommandError(str(error)) from error
        if question_of(kept):
            raise CommandError(
                "The file is kept, and somebody has to say on its page how it is read "
                f"(Import, {kept.file_name}). Nothing was written."
            )
        return kept

    def _preview(self, kept: FileImport) -> Preview:
        try:
            return preview_of(kept, today=localdate())
        except FileRefused as error:
            raise CommandError(str(error)) from error

    def _tell(self, preview: Preview) -> None:
        for kind, words in COUNTED:
            self.stdout.write(f"{preview.counts[kind]:>7,} {words}")
        for verdict in preview.refused:
            self.stdout.write(f"row {verdict.number}: {' '.join(verdict.reasons)}")

    def _confirm(self, kept: FileImport, user: User, seen: str) -> None:
        began = monotonic()
        try:
            import_confirm(kept=kept, user=user, seen=seen, today=localdate(), say=self._say)
        except (ImportRefused, PreviewOutdated, FileRefused) as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"\nWritten in {monotonic() - began:.1f} s.")

    def _say(self, done: int, total: int) -> None:
        self.stdout.write(f"\r{done:>9,} of {total:,} records", ending="")
        self.stdout.flush()


def _user(name: str) -> User:
    user = User.objects.select_related("site").filter(username=name).first()
    if user is None or not may(user, "refer"):
        raise CommandError(f"{name} may not send files in. Name a consultant or nurse.")
    return user
