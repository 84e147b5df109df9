"""`demo`: everything from an empty folder to a page in the browser."""

import multiprocessing
import os
import signal
import socket
import sys
import time
from multiprocessing.process import BaseProcess
from typing import Any

from django.conf import settings
from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connections
from gunicorn.app.base import BaseApplication

from register.config.bootstrap import say
from register.database.guard import refuse_unsafe_database
from register.database.prepare import keep_alive
from register.database.state import SetupError
from register.images import child
from register.images.decoders import decoders_in_words

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
    for connection in connections.all(initialized_only=True):
        connection.close()
    say(decoders_in_words())
    child.stop()  # the web server starts its own
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
    refuse_taken_port(port)
    options = {"bind": f"127.0.0.1:{port}", "threads": 8, "loglevel": "warning"}
    server = multiprocessing.get_context("fork").Process(target=run_web_server, args=[options])
    server.start()
    say(f"\n  http://127.0.0.1:{port}/    (Ctrl-C stops it; the data stay)\n")
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        return watch(server)
    except KeyboardInterrupt:
        server.terminate()
        server.join()
        say("\nStopped. Start again with: python3 manage.py demo")
        return 0


def refuse_taken_port(port: int) -> None:
    """Say at once that the port is taken, and what to do."""
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind(("127.0.0.1", port))
        except OSError:
            raise CommandError(
                f"Port {port} is taken or not allowed. Choose another: "
                f"python3 manage.py demo --port {port + 80}"
            ) from None


class WebServer(BaseApplication):
    """The web server inside this program, with what is imported already."""

    def __init__(self, options: dict[str, Any]) -> None:
        self.options = options
        super().__init__()

    def load_config(self) -> None:
        for name, value in self.options.items():
            self.cfg.set(name, value)

    def load(self) -> Any:
        from register.config.wsgi import application

        return application


def run_web_server(options: dict[str, Any]) -> None:
    """Serve, in a session of its own: Ctrl-C reaches our parent, who ends us in good order."""
    os.setsid()
    WebServer(options).run()


def watch(server: BaseProcess) -> int:
    """Wait for the web server to end; every few seconds see to the database."""
    while server.exitcode is None:
        server.join(timeout=5)
        try:
            keep_alive()
        except SetupError as problem:
            say(str(problem))
    return server.exitcode
