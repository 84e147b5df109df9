"""The environment is made once, repaired when half-made, and never made twice at once."""

import hashlib
import os
import shutil
import subprocess
import sys
import textwrap
import threading
import zipfile
from pathlib import Path

import pytest

from register.config import bootstrap

BASE = Path(__file__).resolve().parents[3]


def wheel(folder: Path, name: str) -> str:
    """Make a package with one module; return its line for a lock."""
    file = folder / f"{name}-1.0-py3-none-any.whl"
    info = f"{name}-1.0.dist-info"
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr(f"{name}.py", "")
        archive.writestr(f"{info}/METADATA", f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n")
        archive.writestr(f"{info}/WHEEL", "Wheel-Version: 1.0\nTag: py3-none-any\n")
        archive.writestr(f"{info}/RECORD", "")
    digest = hashlib.sha256(file.read_bytes()).hexdigest()
    return f"{name}==1.0 --hash=sha256:{digest}\n"


@pytest.fixture
def index(tmp_path, monkeypatch):
    """A lock of one package that lies on disk; no network is asked.

    The environments are made without a pip of their own, which takes seconds each;
    the pip of the environment that runs the tests fills them.
    """
    pytest.importorskip("pip")
    monkeypatch.setattr(bootstrap, "can_give_pip", lambda _: False)
    monkeypatch.setattr(bootstrap, "is_debian_root", lambda: False)
    monkeypatch.setattr(bootstrap, "interpreter", lambda: sys.executable)
    monkeypatch.setattr(bootstrap, "BASE", tmp_path)
    monkeypatch.setattr(bootstrap, "LOCK", tmp_path / "lock.txt")
    (tmp_path / "lock.txt").write_text(wheel(tmp_path, "firstthing"))
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", str(tmp_path))
    return tmp_path


def imports(python: Path, module: str) -> bool:
    done = subprocess.run([python, "-c", f"import {module}"], capture_output=True)
    return done.returncode == 0


@pytest.fixture
def venv(index):
    """A complete environment from that lock."""
    folder = index / "venv"
    bootstrap.environment(folder)
    return folder


def test_a_new_environment_holds_the_lock_and_remembers_it(venv, index):
    assert imports(venv / "bin" / "python", "firstthing")
    assert (
        bootstrap.installed(venv) == hashlib.sha256((index / "lock.txt").read_bytes()).hexdigest()
    )


def test_a_complete_environment_is_left_alone(venv, monkeypatch):
    monkeypatch.setattr(bootstrap, "fill", lambda *_, **__: pytest.fail("made again"))
    bootstrap.environment(venv)


def test_an_interrupted_installation_is_made_anew(venv, capsys):
    (venv / "register-lock").write_text(bootstrap.UNFINISHED)
    (venv / "left-over").touch()
    shutil.rmtree(venv / "bin")
    bootstrap.environment(venv)
    assert imports(venv / "bin" / "python", "firstthing")
    assert not (venv / "left-over").exists()
    assert "The environment is incomplete; making it anew." in capsys.readouterr().out


def test_a_changed_lock_is_installed_on_top(venv, index):
    with (index / "lock.txt").open("a") as lock:
        lock.write(wheel(index, "secondthing"))
    bootstrap.environment(venv)
    assert imports(venv / "bin" / "python", "secondthing")


def test_a_failed_installation_is_said_and_tried_again_from_scratch(index, capsys):
    lock = index / "lock.txt"
    right = lock.read_text()
    lock.write_text(right.replace("sha256:", "sha256:0")[:-2] + "\n")
    with pytest.raises(bootstrap.Stop, match="could not be installed"):
        bootstrap.environment(index / "venv")
    assert bootstrap.installed(index / "venv") == bootstrap.UNFINISHED
    lock.write_text(right)
    bootstrap.environment(index / "venv")
    assert imports(index / "venv" / "bin" / "python", "firstthing")


def test_two_at_once_build_one_after_the_other(index):
    threads = [
        threading.Thread(target=bootstrap.environment, args=[index / "venv"]) for _ in range(2)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert imports(index / "venv" / "bin" / "python", "firstthing")


def test_where_python_can_give_a_pip_the_environment_gets_one(index, monkeypatch):
    monkeypatch.setattr(bootstrap, "can_give_pip", lambda _: True)
    python = bootstrap.environment(index / "venv")
    assert imports(python, "pip")
    assert imports(python, "firstthing")


def test_without_any_pip_the_exact_command_is_said_and_nothing_is_left(index, monkeypatch):
    monkeypatch.setattr(bootstrap, "works", lambda _: False)
    with pytest.raises(bootstrap.Stop, match=r"apt-get install .* python3-venv"):
        bootstrap.environment(index / "venv")
    assert not (index / "venv").exists()


# -- system packages -------------------------------------------------------------


@pytest.fixture
def bare(index, monkeypatch):
    """A machine with nothing on it."""
    monkeypatch.setattr(bootstrap, "loads", lambda _: False)
    monkeypatch.setattr(bootstrap, "browser", lambda: None)
    monkeypatch.setattr(bootstrap, "works", lambda _: False)
    return index / "venv"


def test_what_a_bare_machine_lacks_is_said_at_once(bare):
    needed = bootstrap.needed_for(["manage.py", "test", "-k", "x"], bare)
    assert needed == (*bootstrap.PANGO, "chromium", *bootstrap.DRIVER, *bootstrap.VENV)


def test_only_tests_need_a_browser(bare):
    assert "chromium" not in bootstrap.needed_for(["manage.py", "demo"], bare)


def test_a_complete_machine_lacks_nothing(venv, monkeypatch):
    monkeypatch.setattr(bootstrap, "loads", lambda _: True)
    monkeypatch.setattr(bootstrap, "browser", lambda: "/usr/bin/chromium")
    assert bootstrap.needed_for(["manage.py", "test"], venv) == ()


def test_an_ordinary_account_is_told_what_to_type(monkeypatch):
    monkeypatch.setattr(bootstrap, "is_debian_root", lambda: False)
    with pytest.raises(bootstrap.Stop) as stop:
        bootstrap.system_packages(("chromium",))
    assert str(stop.value).splitlines()[-1].strip() == (
        "sudo apt-get update && sudo apt-get install --yes --no-install-recommends chromium"
    )


def test_root_refreshes_the_lists_once_and_installs(tmp_path, monkeypatch):
    apt = tmp_path / "apt-get"
    apt.write_text(f'#!/bin/sh\necho "$@" >> {tmp_path}/calls\n')
    apt.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    bootstrap.system_packages(("one", "two"))
    update, install = (tmp_path / "calls").read_text().splitlines()
    assert update.endswith("update")
    assert install.endswith("install --yes --no-install-recommends one two")


def test_a_browser_can_be_named(tmp_path, monkeypatch):
    program = tmp_path / "mine"
    program.touch(0o755)
    monkeypatch.setenv("REGISTER_CHROMIUM", str(program))
    assert bootstrap.browser() == str(program)
    monkeypatch.setenv("REGISTER_CHROMIUM", str(tmp_path / "none"))
    assert bootstrap.browser() is None


# -- the script itself -------------------------------------------------------------


def test_it_imports_the_standard_library_only():
    code = textwrap.dedent(
        f"""
        import sys
        sys.path.insert(0, {str(BASE)!r})
        from register.config import bootstrap
        foreign = {{name.partition(".")[0] for name in sys.modules}} - set(sys.stdlib_module_names)
        print(sorted(foreign - {{"register", "__main__"}}))
        """
    )
    command = [sys.executable, "-I", "-S", "-c", code]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_lock_names_no_address():
    lines = (BASE / ".ci" / "lock.txt").read_text().splitlines()
    assert not [line for line in lines if "://" in line or line.startswith("-")]
    assert all("==" in line or line.lstrip().startswith(("--hash=sha256:", "#")) for line in lines)
