"""The state folder: generated passwords and where the embedded server lives.

`REGISTER_STATE` chooses it; otherwise it is `.register/data` beside `manage.py`.
Everything in it is private to the account that runs the register.
"""

import fcntl
import json
import os
import secrets
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

BASE = Path(__file__).resolve().parents[2]
SECRETS = ("secret_key", "superuser", "owner", "application")


class SetupError(Exception):
    """The set-up cannot go on; the message says what to do. It holds no secret."""


def state_folder() -> Path:
    """Return the state folder, made when missing (traversable, not listable by others)."""
    folder = Path(os.environ.get("REGISTER_STATE") or BASE / ".register" / "data").absolute()
    if not folder.exists():
        folder.mkdir(parents=True)
        # The server's own account must be able to pass through, nobody may look around.
        folder.chmod(0o711)
    if not os.access(folder, os.R_OK | os.W_OK | os.X_OK):
        raise SetupError(
            f"This account may not use {folder}. Run as the account that made it, "
            "or choose another folder with REGISTER_STATE."
        )
    return folder


def private_folder(name: str) -> Path:
    """Return a folder inside the state folder that only this account can enter."""
    folder = state_folder() / name
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


@contextmanager
def locked(file: Path) -> Iterator[None]:
    """Hold an exclusive lock on a file. The kernel frees it when the process dies."""
    handle = os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def read(file: Path) -> dict[str, Any]:
    """Return the JSON object in a file; empty when there is no such file."""
    try:
        return dict(json.loads(file.read_text(encoding="utf-8")))
    except FileNotFoundError:
        return {}
    except PermissionError as refused:
        raise SetupError(
            f"This account may not read {file}. Run as the account that made it, "
            "or choose another folder with REGISTER_STATE."
        ) from refused


def write(file: Path, values: dict[str, Any]) -> None:
    """Replace a file in one step, readable by its owner only (a temporary file starts so)."""
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.")
    with os.fdopen(handle, "w", encoding="utf-8") as out:
        json.dump(values, out, indent=1)
        out.flush()
        os.fsync(out.fileno())
    os.replace(name, file)


def generated_secrets(folder: Path) -> dict[str, str]:
    """Return the generated secrets of a state folder; the first call makes them."""
    file = folder / "secrets.json"
    found = read(file)
    if set(SECRETS) <= set(found):
        return found
    with locked(folder / "secrets.lock"):
        found = read(file)
        missing = [name for name in SECRETS if name not in found]
        if missing:
            found |= {name: secrets.token_urlsafe(48) for name in missing}
            write(file, found)
    return found
