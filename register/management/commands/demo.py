"""`demo`: everything from an empty folder to a page in the browser."""

import signal
import subprocess
import sys
import time
from typing import Any

from django.conf import settings
from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connections

from register.config.bootstrap import say
from register.database.guard import refuse_unsafe_database
from register.database.prepare import keep_alive
from register.database.state import SetupError

DEFAULT_PORT = 8000


class Command(BaseCommand):
    help = "Prepare the demo and serve it on this machine; --check drives the main job instead."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=DEFAULT_PORT)
        parser.add_argument(
            "--check", action="store_true", help="drive the main job once, do not serve"
        )

    def handle(self, *, port: int, check: bool, **options: Any) -> None:
        if not settings.REGISTER_DEMO:
            raise CommandError("This is a live site. Unset REGISTER_MODE to start the demo.")
        prepare()
        if check:
            if_present("drive_main_job")
            self.stdout.write("The check is complete.")
            return
        sys.exit(serve(port))


def prepare() -> None:
    """Migrate, refuse an unsafe server, load the scenario when the register is empty."""
    started = time.monotonic()
    if unapplied_migrations():
        say("Preparing the tables.")
        call_command("migrate", interactive=False, verbosity=1)
    refuse_unsafe_database()
    if_present("load_demo")
    settings.STATIC_ROOT.mkdir(exist_ok=True)  # the file server wants to see it
    for connection in connections.all(initialized_only=True):
        connection.close()
    say(f"The demo is ready ({time.monotonic() - started:.0f} s).")


def unapplied_migrations() -> bool:
    """Tell whether the tables are older than the code."""
    from django.db.migrations.executor import MigrationExecutor

    executor = MigrationExecutor(connections["owner"])
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def if_present(command: str) -> None:
    """Call a command that another part of the register brings."""
    if command in get_commands():
        call_command(command)


def serve(port: int) -> int:
    """Serve until Ctrl-C, and keep an eye on the embedded database. Returns the exit code."""
    say(f"\n  http://127.0.0.1:{port}/    (Ctrl-C stops it; the data stay)\n")
    command = [sys.executable, "-m", "gunicorn", "register.config.wsgi:application"]
    command += ["--bind", f"127.0.0.1:{port}", "--threads", "8", "--log-level", "warning"]
    signal.signal(signal.SIGTERM, signal.getsignal(signal.SIGINT))
    with subprocess.Popen(command, cwd=settings.BASE_DIR) as server:
        try:
            return watch(server)
        except KeyboardInterrupt:
            server.terminate()
            server.wait()
            say("\nStopped. Start again with: python3 manage.py demo")
            return 0


def watch(server: "subprocess.Popen[bytes]") -> int:
    """Wait for the web server to end; every few seconds see to the database."""
    while True:
        try:
            return server.wait(timeout=5)
        except subprocess.TimeoutExpired:
            try:
                keep_alive()
            except SetupError as problem:
                say(str(problem))
