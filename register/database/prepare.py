"""Make the database ready: server running, roles made. Cheap when all is there."""

import atexit
import os

from register.database import state
from register.database.addresses import Addresses, addresses
from register.database.cluster import Cluster
from register.database.roles import ensure_roles

_held: dict[str, object] = {}


def database_ready() -> Addresses:
    """Start the embedded server if it is ours to start, make the roles, return the addresses.

    The server is held until this process ends. Safe to call twice.
    """
    found = addresses()
    if found.embedded and not _held:
        hold(Cluster(state.state_folder()))
        found = addresses()  # the socket's folder is settled only now
    ensure_roles(found)
    return found


def hold(cluster: Cluster) -> None:
    """Hold the server, and let go of it when this very process ends (not a fork of it)."""
    cluster.hold()
    _held.update(cluster=cluster, process=os.getpid())
    atexit.register(release)


def keep_alive() -> None:
    """Start the embedded server again if it died; nothing to do on a server of others."""
    cluster = _held.get("cluster")
    if isinstance(cluster, Cluster):
        cluster.hold()


def release() -> None:
    """Let go of the server, in the process that took it."""
    cluster = _held.get("cluster")
    if isinstance(cluster, Cluster) and _held.get("process") == os.getpid():
        cluster.release()
        _held.clear()
