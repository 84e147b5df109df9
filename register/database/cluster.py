"""The embedded PostgreSQL: made, started, shared and stopped here.

It listens on a socket in a private folder only, asks everybody for a password,
and keeps page checksums. Processes share it: each holds a shared lock for as
long as it lives, and the last one to leave stops the server. The kernel frees a
lock however its holder dies, so a killed process never keeps the server running
for ever, and never stops it under somebody else.

`postmaster.pid` is believed only after a connection succeeded. After a kill the
file may name a process that is gone, a zombie, or one that has nothing to do
with us; it is removed when no process works in the data folder any more.
Linux only: that last question is put to /proc.
"""

import contextlib
import fcntl
import os
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from subprocess import CompletedProcess

import psycopg

from register.database import place as places
from register.database import state
from register.database.addresses import SUPERUSER, Address
from register.database.state import SetupError
from register.history.sql import literal

PORT = 5432  # names the socket only; nothing listens on the network
SOCKET_LIMIT = 107  # bytes of a socket's whole path that the kernel takes
PATIENCE = 30.0  # seconds to keep trying after a kill

SETTINGS = {
    "listen_addresses": "",
    "unix_socket_permissions": "0700",
    "password_encryption": "scram-sha-256",
    "timezone": "UTC",
    "log_timezone": "UTC",
    "fsync": "on",
    "full_page_writes": "on",
    "synchronous_commit": "on",
    "jit": "off",
    # The log must not repeat what people typed: no failing statements, no "Key (...)" details.
    "log_min_error_statement": "panic",
    "log_error_verbosity": "terse",
}


class Cluster:
    """One embedded server. Several processes may hold the same one."""

    def __init__(self, folder: Path, settings: dict[str, str] | None = None) -> None:
        """`folder` is the state folder; `settings` change the server's own, for trials."""
        self.state = folder
        self.settings = SETTINGS | (settings or {})
        self._lease: int | None = None

    # -- what others ask ---------------------------------------------------

    @property
    def place(self) -> places.Place:
        return places.recorded(self.state)

    @property
    def socket_folder(self) -> Path:
        """The folder of the socket, which is also the host to connect to."""
        noted = state.read(self.state / "place.json").get("socket")
        return Path(noted) if noted else self.place.folder / "socket"

    def superuser(self, name: str = "postgres") -> Address:
        """Return the superuser's address."""
        password = state.generated_secrets(self.state)["superuser"]
        return Address(SUPERUSER, password, str(self.socket_folder), PORT, name)

    def answers(self) -> bool:
        """Tell whether this very server accepts a connection."""
        try:
            with psycopg.connect(self.superuser().conninfo(), connect_timeout=5) as connection:
                row = connection.execute("SHOW data_directory").fetchone()
        except psycopg.OperationalError:
            return False
        return row is not None and Path(row[0]) == self.place.data

    # -- hold and release --------------------------------------------------

    def hold(self) -> None:
        """Make sure that the server runs, and keep it running for this process."""
        with self._starting():
            if self._lease is None:
                self._lease = os.open(self._users, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
                fcntl.flock(self._lease, fcntl.LOCK_SH)
            if not self.answers():
                self._start()

    def release(self) -> None:
        """Give up this process's share; the last one out stops the server."""
        if self._lease is None:
            return
        with self._starting():
            try:
                fcntl.flock(self._lease, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                last = False
            else:
                last = True
            if last:
                self._stop()
            os.close(self._lease)
            self._lease = None

    @property
    def _users(self) -> Path:
        return self.state / "users.lock"

    def _starting(self) -> contextlib.AbstractContextManager[None]:
        return state.locked(self.state / "start.lock")

    # -- the server itself; all of it under the start lock -------------------

    def _start(self) -> None:
        """Make the cluster when there is none, and start it; try again for some seconds."""
        self.account = places.server_account()
        place = places.settle(self.state, self.account)
        self.binaries = places.binaries(place, self.account)
        if not (place.data / "postgresql.conf").exists():
            self._create(place)
        self._configure(place)
        give_up = time.monotonic() + PATIENCE
        while True:
            self._forget_dead_server(place)
            started = self._control("start", "-w", "-t", "120", "-l", str(place.log))
            if started.returncode == 0 or self.answers():
                return
            if time.monotonic() > give_up:
                raise SetupError(
                    f"The database did not start.\n{started.stdout.strip()}\n{tail(place.log)}"
                )
            time.sleep(0.5)

    def _stop(self) -> None:
        """Stop the server if it is there; work in progress is rolled back."""
        self.account = places.server_account()
        self.binaries = places.binaries(self.place, self.account)
        if (self.place.data / "postmaster.pid").exists():
            self._control("stop", "-w", "-t", "60", "-m", "fast")

    def _control(self, *arguments: str) -> CompletedProcess[str]:
        command = [str(self.binaries / "pg_ctl"), "-D", str(self.place.data), *arguments]
        return self.account.run(command)

    def _create(self, place: places.Place) -> None:
        """Run initdb next to the final folder, so that a broken run leaves nothing behind."""
        unfinished = Path(tempfile.mkdtemp(dir=place.folder, prefix="new-"))
        password = unfinished.with_suffix(".password")
        try:
            self.account.give(unfinished)
            password.touch(0o600)
            self.account.give(password)
            password.write_text(state.generated_secrets(self.state)["superuser"])
            self._initdb(unfinished, password)
        finally:
            password.unlink(missing_ok=True)
        with (unfinished / "postgresql.conf").open("a") as conf:
            conf.write("\ninclude 'register.conf'\n")
        unfinished.rename(place.data)

    def _initdb(self, folder: Path, password: Path) -> None:
        command = [str(self.binaries / "initdb"), "-D", str(folder), "-U", SUPERUSER]
        command += ["--pwfile", str(password), "--auth=scram-sha-256", "--data-checksums"]
        # Same order on every machine; C.UTF-8 still knows upper and lower case of letters.
        command += ["--encoding=UTF8", "--locale=C", f"--lc-ctype={character_types()}"]
        made = self.account.run(command)
        if made.returncode != 0:
            raise SetupError(f"Making the database failed.\n{made.stdout.strip()}")

    def _configure(self, place: places.Place) -> None:
        """Write our settings, and see that the socket folder is there and private."""
        folder = self._private_socket_folder(place)
        values = self.settings | {"unix_socket_directories": str(folder), "port": str(PORT)}
        lines = (f"{name} = {literal(value)}" for name, value in values.items())
        conf = place.data / "register.conf"
        conf.write_text("\n".join(lines) + "\n", encoding="utf-8")
        conf.chmod(0o600)
        self.account.give(conf)

    def _private_socket_folder(self, place: places.Place) -> Path:
        """Return the socket folder, made when missing; a short one when the path is too long."""
        folder = self.socket_folder
        if is_private(folder, self.account.uid):
            return folder
        folder = place.folder / "socket"
        if len(os.fsencode(folder / f".s.PGSQL.{PORT}.lock")) > SOCKET_LIMIT:
            folder = Path(tempfile.mkdtemp(dir="/tmp", prefix="register-"))
        else:
            folder.mkdir(mode=0o700, exist_ok=True)
        self.account.give(folder)
        places.note(self.state, socket=str(folder))
        return folder

    def _forget_dead_server(self, place: places.Place) -> None:
        """Remove a pid file when no process at all works in the data folder."""
        pid_file = place.data / "postmaster.pid"
        if pid_file.exists() and not any(working_in(place.data)):
            pid_file.unlink(missing_ok=True)


def is_private(folder: Path, uid: int) -> bool:
    """Tell whether this is a real folder of that account which nobody else may enter."""
    try:
        found = folder.lstat()
    except OSError:
        return False
    return (
        folder.is_dir()
        and not folder.is_symlink()
        and found.st_uid == uid
        and (found.st_mode & 0o077 == 0)
    )


def working_in(folder: Path) -> Iterator[int]:
    """Yield the processes whose working directory is the folder, as a server's always is.

    A zombie has none, a foreign process another one.
    """
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with contextlib.suppress(OSError):
                if Path(os.readlink(entry / "cwd")) == folder:
                    yield int(entry.name)


def character_types() -> str:
    """Return C.UTF-8 where the system has it, else C."""
    import locale

    before = locale.setlocale(locale.LC_CTYPE)
    try:
        locale.setlocale(locale.LC_CTYPE, "C.UTF-8")
    except locale.Error:
        return "C"
    finally:
        locale.setlocale(locale.LC_CTYPE, before)
    return "C.UTF-8"


def tail(file: Path, lines: int = 10) -> str:
    """Return the last lines of a log; empty when there is none."""
    try:
        return "\n".join(file.read_text(errors="replace").splitlines()[-lines:])
    except OSError:
        return ""
