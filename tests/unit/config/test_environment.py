"""Values from the environment: typed, and never repeated in a message."""

import subprocess
import sys
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured

from register.config import environment
from register.config.assets import FILES, InstalledFiles

BASE = Path(__file__).resolve().parents[3]


def test_a_missing_value_without_default_is_named(monkeypatch):
    monkeypatch.delenv("NAME", raising=False)
    with pytest.raises(ImproperlyConfigured, match="Set NAME in the environment"):
        environment.text("NAME")
    assert environment.text("NAME", "default") == "default"


@pytest.mark.parametrize(
    "read",
    [
        lambda: environment.number("NAME", 1),
        lambda: environment.flag("NAME", True),
        lambda: environment.one_of("NAME", ("demo", "live"), "demo"),
    ],
)
def test_a_wrong_value_is_refused_without_being_shown(monkeypatch, read):
    monkeypatch.setenv("NAME", "s3cret٣")
    with pytest.raises(ImproperlyConfigured, match="Set NAME to") as refused:
        read()
    assert "s3cret" not in str(refused.value)


@pytest.mark.parametrize(("word", "value"), [("yes", True), ("0", False), ("OFF", False)])
def test_flags(monkeypatch, word, value):
    monkeypatch.setenv("NAME", word)
    assert environment.flag("NAME", not value) is value


def test_lists_have_no_empty_entries(monkeypatch):
    monkeypatch.setenv("NAME", " a, ,b,")
    assert environment.items("NAME") == ["a", "b"]


@pytest.mark.parametrize("missing", ["REGISTER_SECRET_KEY", "REGISTER_HOSTS"])
def test_a_live_site_does_not_start_without(missing, tmp_path):
    values = {
        "PATH": "/usr/bin",
        "REGISTER_MODE": "live",
        "REGISTER_STATE": str(tmp_path),
        "REGISTER_SECRET_KEY": "x" * 60,
        "REGISTER_HOSTS": "register.example",
    }
    del values[missing]
    done = subprocess.run(
        [sys.executable, "-c", "import register.config.settings"],
        cwd=BASE,
        env=values,
        capture_output=True,
        text=True,
    )
    assert done.returncode != 0
    assert f"Set {missing} in the environment" in done.stderr
    assert "xxxx" not in done.stderr


def test_every_installed_file_is_there_and_is_found():
    assert [address for address, file in FILES.items() if not file.is_file()] == []
    finder = InstalledFiles()
    listed = {f"{storage.prefix}/{name}": storage.path(name) for name, storage in finder.list([])}
    assert listed == {address: str(file) for address, file in FILES.items()}
    assert finder.find("fonts/none.ttf") == []
