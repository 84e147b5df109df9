"""The embedded server: private, shared, and back after every kind of kill."""

import os
import signal
import stat
import subprocess
import time
from pathlib import Path

import psycopg
import pytest

from register.database import place
from register.database.cluster import SOCKET_LIMIT, Cluster
from tests.integration import clusters
from tests.integration.clusters import ask, holder, kill, let_go, postmaster

SAFE = {
    "listen_addresses": "",
    "data_checksums": "on",
    "fsync": "on",
    "full_page_writes": "on",
    "synchronous_commit": "on",
    "TimeZone": "UTC",
    "server_encoding": "UTF8",
    "lc_collate": "C",
}


@pytest.fixture
def state():
    with clusters.state_folder() as folder:
        yield folder


@pytest.fixture
def cluster(state):
    """A held cluster; let go at the end."""
    cluster = Cluster(state)
    cluster.hold()
    yield cluster
    cluster.release()


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_a_new_server_is_private_and_safe(cluster, state):
    found = {
        name: ask(cluster, f"SELECT current_setting('{name}')")
        if name != "lc_collate"
        else ask(cluster, "SELECT datcollate FROM pg_database WHERE datname = 'postgres'")
        for name in SAFE
    }
    assert found == SAFE
    assert mode(cluster.socket_folder) == 0o700
    assert mode(cluster.place.data) == 0o700
    assert mode(state / "secrets.json") == 0o600
    methods = ask(cluster, "SELECT string_agg(DISTINCT auth_method, ',') FROM pg_hba_file_rules")
    assert methods == "scram-sha-256"


def test_a_wrong_password_is_refused(cluster):
    address = cluster.superuser().conninfo() + " password=guess"
    with pytest.raises(psycopg.OperationalError, match="password authentication failed"):
        psycopg.connect(address)


def test_two_processes_share_the_server_and_the_last_one_stops_it(state):
    first, second = holder(state), holder(state)
    pid = postmaster(Cluster(state))
    assert let_go(first) == "released\n"
    assert Cluster(state).answers()
    assert postmaster(Cluster(state)) == pid
    assert let_go(second) == "released\n"
    assert postmaster(Cluster(state)) is None


def test_two_first_starts_at_once_make_one_server(state):
    both = [clusters.start_holder(state) for _ in range(2)]
    assert [process.stdout.readline() for process in both] == ["held\n", "held\n"]
    assert Cluster(state).answers()
    assert len(list(Cluster(state).place.folder.glob("new-*"))) == 0
    for process in both:
        let_go(process)


def test_a_killed_user_neither_stops_the_server_nor_keeps_it(state):
    first, second = holder(state), holder(state)
    kill(first)
    assert Cluster(state).answers()
    let_go(second)
    assert postmaster(Cluster(state)) is None


def test_after_all_users_were_killed_the_next_one_finds_the_server_and_stops_it(state):
    process = holder(state)
    pid = postmaster(Cluster(state))
    kill(process)
    assert postmaster(Cluster(state)) == pid
    cluster = Cluster(state)
    cluster.hold()
    assert postmaster(cluster) == pid
    cluster.release()
    assert postmaster(cluster) is None


def test_a_killed_server_comes_back_with_what_was_saved(cluster):
    ask(cluster, "CREATE TABLE kept (n int)")
    for number in range(3):
        ask(cluster, f"INSERT INTO kept VALUES ({number})")
        with psycopg.connect(cluster.superuser().conninfo()) as busy:
            busy.execute("SELECT 1")
            os.kill(postmaster(cluster), signal.SIGKILL)
            cluster.hold()
            busy.close()
        assert ask(cluster, "SELECT count(*) FROM kept") == str(number + 1)


def test_a_pid_file_that_names_a_foreign_process_is_not_believed(state):
    account = place.server_account()
    cluster = Cluster(state)
    cluster.hold()
    pid_file = cluster.place.data / "postmaster.pid"
    lines = pid_file.read_text().splitlines()
    cluster.release()
    identity = {"user": account.uid, "group": account.gid} if account.switch else {}
    foreign = subprocess.Popen(["sleep", "60"], cwd="/", **identity)
    try:
        pid_file.write_text("\n".join([str(foreign.pid), *lines[1:]]) + "\n")
        account.give(pid_file)
        cluster.hold()
        assert cluster.answers()
        assert postmaster(cluster) not in (None, foreign.pid)
        assert foreign.poll() is None
    finally:
        foreign.kill()
        foreign.wait()
        cluster.release()


def test_a_server_that_still_works_is_never_taken_for_dead(cluster):
    """The pid file of a living server stays, even if it should not answer for a moment."""
    pid = postmaster(cluster)
    os.kill(pid, signal.SIGSTOP)
    try:
        cluster._forget_dead_server(cluster.place)
        assert (cluster.place.data / "postmaster.pid").exists()
    finally:
        os.kill(pid, signal.SIGCONT)


def test_an_interrupted_first_start_leaves_nothing_in_the_way(state):
    cluster = Cluster(state)
    account = place.server_account()
    folder = place.settle(state, account).folder
    (folder / "new-half" / "base").mkdir(parents=True)
    cluster.hold()
    assert cluster.answers()
    cluster.release()


def test_a_path_too_long_for_a_socket_gets_a_short_private_folder():
    with clusters.state_folder("x" * 60, "y" * 60) as state:
        cluster = Cluster(state)
        cluster.hold()
        folder = cluster.socket_folder
        assert len(os.fsencode(folder / ".s.PGSQL.5432")) <= SOCKET_LIMIT
        assert mode(folder) == 0o700
        assert cluster.answers()
        cluster.release()
        folder.rmdir()  # as after a restart of the machine, which empties /tmp
        cluster.hold()
        assert cluster.answers()
        cluster.release()


def test_no_folder_of_others_changes_its_permissions():
    """A checkout under a closed home: the server must go elsewhere, not open the door."""
    with clusters.state_folder("home", "checkout") as state:
        home = state.parents[1]
        home.chmod(0o700)
        state.chmod(0o711)
        watched = [state, *state.parents, Path("/var/lib"), Path("/tmp")]
        before = [(p, p.stat().st_mode, p.stat().st_uid, p.stat().st_gid) for p in watched]
        cluster = Cluster(state)
        cluster.hold()
        assert cluster.answers()
        assert [(p, p.stat().st_mode, p.stat().st_uid, p.stat().st_gid) for p in watched] == before
        assert (state in cluster.place.folder.parents) != clusters.server_account_is_other()
        cluster.release()


@pytest.mark.skipif(os.geteuid() != 0, reason="only root runs the server as another account")
def test_as_root_the_server_has_an_account_of_its_own(cluster):
    status = Path(f"/proc/{postmaster(cluster)}/status").read_text()
    uids = next(line for line in status.splitlines() if line.startswith("Uid:")).split()[1:]
    assert set(uids) == {str(place.server_account().uid)}
    assert "0" not in uids


def test_what_people_typed_stays_out_of_the_log(cluster):
    ask(cluster, "CREATE TABLE seen (name text UNIQUE)")
    ask(cluster, "INSERT INTO seen VALUES ('Quillfeather')")
    with pytest.raises(psycopg.errors.UniqueViolation):
        ask(cluster, "INSERT INTO seen VALUES ('Quillfeather')")
    time.sleep(0.1)
    assert "Quillfeather" not in cluster.place.log.read_text()
