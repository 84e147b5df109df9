"""The first minute on a new machine: environment, system libraries. Standard library only.

`manage.py` calls `enter()` before anything else. It makes the virtual environment
from the hash-pinned lock when that is missing, half-made or outdated, looks for the
system libraries, and then runs the command again inside the environment.
"""

from __future__ import annotations

import ctypes
import fcntl
import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

BASE = Path(__file__).resolve().parents[2]
LOCK = BASE / ".ci" / "lock.txt"
OLDEST = (3, 11)
UNFINISHED = "unfinished"

# What WeasyPrint loads at run time, and the Debian packages that bring it.
LIBRARIES = ("libpango-1.0.so.0", "libpangoft2-1.0.so.0", "libharfbuzz-subset.so.0")
VENV = ("python3-venv",)
PANGO = ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0")
# The program that steers the browser in tests is linked with this one.
DRIVER_NEEDS = "libatomic.so.1"
DRIVER = ("libatomic1",)
BROWSERS = ("chromium", "chromium-browser", "google-chrome")


class Stop(Exception):
    """The set-up cannot go on here; the message says what to do."""


def enter(arguments: list[str]) -> None:
    """Return inside a complete environment, or run the command there, or stop with advice."""
    try:
        system_packages(needed_for(arguments, folder()))
        python = environment(folder())
    except Stop as stop:
        sys.exit(f"\n{stop}")
    if Path(sys.prefix).resolve() != folder().resolve():
        os.execv(python, [str(python), *arguments])


def folder() -> Path:
    """Return the folder of the environment; `REGISTER_VENV` chooses another one."""
    return Path(os.environ.get("REGISTER_VENV") or BASE / ".register" / "venv").absolute()


def say(text: str) -> None:
    """Print one line of progress at once."""
    print(text, flush=True)


# -- the virtual environment ---------------------------------------------------


def environment(venv: Path) -> Path:
    """Return the environment's Python; make or complete the environment first if need be.

    `state` inside it holds the digest of the lock that was installed. It says
    "unfinished" while packages are put in, so that an interrupted run is noticed.
    """
    wanted = hashlib.sha256(LOCK.read_bytes()).hexdigest()
    if installed(venv) != wanted:
        with one_at_a_time(venv):
            found = installed(venv)
            if found != wanted:
                fill(venv, from_scratch=found in ("", UNFINISHED))
                (venv / "register-lock").write_text(wanted)
                say("The environment is ready.")
    return venv / "bin" / "python"


def installed(venv: Path) -> str:
    """Return the digest of the installed lock, "unfinished", or '' when there is none."""
    try:
        return (venv / "register-lock").read_text().strip()
    except OSError:
        return ""


@contextmanager
def one_at_a_time(venv: Path) -> Iterator[None]:
    """Let only one process build; the other one waits and then finds all done."""
    venv.parent.mkdir(parents=True, exist_ok=True)
    with venv.with_name(f"{venv.name}.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Another process is preparing the environment; waiting for it.")
            fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def fill(venv: Path, *, from_scratch: bool) -> None:
    """Make the environment and install the lock into it."""
    if from_scratch:
        if venv.exists():
            say("The environment is incomplete; making it anew.")
            shutil.rmtree(venv)
        make(venv)
    (venv / "register-lock").write_text(UNFINISHED)
    command = installer(venv)
    count = sum(1 for line in LOCK.read_text().splitlines() if "==" in line)
    say(f"Installing {count} packages from {LOCK.relative_to(BASE)} (some minutes the first time).")
    if run_showing_progress(command, count) != 0:
        raise Stop(
            "Some packages could not be installed; the lines above say why. "
            "Check the connection to your package index and run the same command again."
        )


def make(venv: Path) -> None:
    """Make an empty environment, with pip if this Python can give it one."""
    say(f"Making the environment in {venv}.")
    python = interpreter()
    options = [] if can_give_pip(python) else ["--without-pip"]
    made = subprocess.run([python, "-m", "venv", *options, str(venv)])
    if made.returncode != 0:
        raise Stop(f"Python could not make an environment. Run: {apt_line(VENV)}")


def interpreter() -> str:
    """Return a Python that is new enough: this one, or another on the path."""
    if sys.version_info >= OLDEST:
        return getattr(sys, "_base_executable", sys.executable)
    for minor in range(14, OLDEST[1] - 1, -1):
        found = shutil.which(f"python3.{minor}")
        if found:
            return found
    raise Stop(f"Python {OLDEST[0]}.{OLDEST[1]} or newer is needed. {apt_line(('python3',))}")


def can_give_pip(python: str) -> bool:
    """Debian keeps the module that puts pip into an environment in a package of its own."""
    return subprocess.run([python, "-c", "import ensurepip"], capture_output=True).returncode == 0


def installer(venv: Path) -> list[str]:
    """Return the command that installs the lock: the environment's pip, or one from outside."""
    inside = str(venv / "bin" / "python")
    what = ["install", "--require-hashes", "--no-deps", "-r", str(LOCK)]
    quiet = ["--disable-pip-version-check", "--no-input", "--progress-bar", "off"]
    if works([inside, "-m", "pip", "--version"]):
        return [inside, "-m", "pip", *what, *quiet]
    outside = outside_installer()
    if outside == ["uv"]:
        return ["uv", "pip", "install", "--python", inside, *what[1:]]
    if outside:
        return [*outside, "--python", inside, *what, *quiet]
    shutil.rmtree(venv)
    raise Stop(f"There is no pip to fill the environment. Run: {apt_line(VENV)}")


def outside_installer() -> list[str] | None:
    """Return a pip, or uv, that can fill an environment which has no pip of its own."""
    python = interpreter()
    for pip in ([python, "-m", "pip"], ["pip3"], ["pip"]):
        if works([*pip, "--python", python, "--version"]):  # older ones know no --python
            return pip
    return ["uv"] if works(["uv", "--version"]) else None


def works(command: list[str]) -> bool:
    """Tell whether a command is there and runs."""
    try:
        return subprocess.run(command, capture_output=True).returncode == 0
    except OSError:
        return False


def run_showing_progress(command: list[str], count: int) -> int:
    """Run an installer, say every tenth package, and repeat its errors. Returns its code."""
    seen = 0
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, encoding="utf-8", errors="replace"
    ) as process:
        for line in process.stdout or ():
            if line.startswith(("Collecting ", "Requirement already satisfied")):
                seen += 1
                if seen % 10 == 0:
                    say(f"  {seen} of {count} packages fetched")
            elif line.startswith("Installing collected"):
                say("  putting them in place")
            elif line.startswith("ERROR"):
                say(line.rstrip())
    return process.returncode


# -- system packages -----------------------------------------------------------


def needed_for(arguments: list[str], venv: Path) -> tuple[str, ...]:
    """Return the Debian packages that this command needs and the machine lacks.

    All at once, so that an ordinary account has to ask for help only once.
    """
    missing: tuple[str, ...] = () if all(loads(name) for name in LIBRARIES) else PANGO
    if "test" in arguments[1:2]:
        missing += () if browser() else ("chromium",)
        missing += () if loads(DRIVER_NEEDS) else DRIVER
    if not installed(venv) and not can_give_pip(interpreter()) and outside_installer() is None:
        missing += VENV
    return missing


def loads(library: str) -> bool:
    """Tell whether a shared library is there."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def browser() -> str | None:
    """Return the path of a Chromium; `REGISTER_CHROMIUM` names another one."""
    named = os.environ.get("REGISTER_CHROMIUM")
    return next(filter(None, map(shutil.which, (named,) if named else BROWSERS)), None)


def system_packages(packages: tuple[str, ...]) -> None:
    """Install Debian packages as root; otherwise say the exact command and stop."""
    if not packages:
        return
    if not is_debian_root():
        raise Stop(
            f"Some system packages are missing. Run this, then the same again:\n"
            f"  {apt_line(packages)}"
        )
    apt_install(packages)


def is_debian_root() -> bool:
    """Tell whether apt can be used."""
    return os.geteuid() == 0 and shutil.which("apt-get") is not None


def apt_line(packages: tuple[str, ...]) -> str:
    """Return what to type as an ordinary account."""
    names = " ".join(packages)
    return f"sudo apt-get update && sudo apt-get install --yes --no-install-recommends {names}"


def apt_install(packages: tuple[str, ...]) -> None:
    """Install packages, after one refresh of the lists."""
    say(f"Installing {', '.join(packages)} with apt.")
    quiet = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    for command in (["update"], ["install", "--yes", "--no-install-recommends", *packages]):
        done = subprocess.run(
            ["apt-get", "--quiet", "--option", "DPkg::Lock::Timeout=300", *command],
            env=quiet,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
    if done.returncode != 0:
        raise Stop(f"apt could not install them:\n{done.stdout[-800:]}\nRun: {apt_line(packages)}")
