"""Trial clusters of the lifecycle tests, and small programs that use them."""

import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

from register.database import place
from register.database.cluster import Cluster

BASE = Path(__file__).resolve().parents[2]
HOLDER = (
    "import sys; from pathlib import Path; from register.database.cluster import Cluster;"
    "c = Cluster(Path(sys.argv[1])); c.hold(); print('held', flush=True);"
    "sys.stdin.read(); c.release(); print('released', flush=True)"
)


@contextmanager
def state_folder(*names: str) -> Iterator[Path]:
    """Give an empty state folder that every account can reach; remove all of it afterwards."""
    top = Path(tempfile.mkdtemp(prefix="trial-"))
    top.chmod(0o755)
    folder = top.joinpath(*names, "state")
    folder.mkdir(parents=True)
    try:
        yield folder
    finally:
        end(folder)
        shutil.rmtree(top, ignore_errors=True)


def end(folder: Path) -> None:
    """Stop what may still run, and remove what lies outside the state folder."""
    cluster = Cluster(folder)
    outside = [cluster.place.folder, cluster.socket_folder]
    pid = postmaster(cluster)
    if pid is not None:
        os.kill(pid, signal.SIGKILL)
    for path in outside:
        if folder not in path.parents:
            shutil.rmtree(path, ignore_errors=True)


def postmaster(cluster: Cluster) -> int | None:
    """Return the server's process number if such a process works in the data folder."""
    try:
        pid = int((cluster.place.data / "postmaster.pid").read_text().split()[0])
        if Path(os.readlink(f"/proc/{pid}/cwd")) == cluster.place.data:
            return pid
    except (OSError, ValueError, IndexError):
        pass
    return None


def holder(folder: Path) -> "subprocess.Popen[str]":
    """Start a process that holds the cluster until its input ends; wait until it does."""
    process = start_holder(folder)
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    return process


def start_holder(folder: Path) -> "subprocess.Popen[str]":
    """Start such a process without waiting."""
    return subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(folder)],
        cwd=BASE,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


def let_go(process: "subprocess.Popen[str]") -> str:
    """End a holder politely; returns what it still said."""
    return process.communicate(timeout=60)[0]


def kill(process: "subprocess.Popen[str]") -> None:
    """Kill a holder without a word, and reap it."""
    process.kill()
    process.communicate(timeout=60)


def ask(cluster: Cluster, question: str) -> str:
    """Return the one value that a query gives, as the superuser."""
    with psycopg.connect(cluster.superuser().conninfo(), autocommit=True) as connection:
        cursor = connection.execute(question)
        row = cursor.fetchone() if cursor.description else None
        return "" if row is None else str(row[0])


def server_account_is_other() -> bool:
    """True when the tests run as root, and the server as an account of its own."""
    return place.server_account().switch
