"""The search for cycles rests while anybody works on a large file, and no longer."""

import gc
from contextlib import ExitStack

import pytest

from register.imports.resting import collector_resting


def test_it_rests_until_the_last_one_is_done_in_any_order_and_after_an_error():
    assert gc.isenabled()
    first, second = ExitStack(), ExitStack()
    first.enter_context(collector_resting())
    second.enter_context(collector_resting())
    first.close()
    assert not gc.isenabled()
    second.close()
    assert gc.isenabled()
    with pytest.raises(ValueError, match="bad row"), collector_resting():
        raise ValueError("bad row")
    assert gc.isenabled()


def test_who_has_switched_it_off_finds_it_off():
    gc.disable()
    try:
        with collector_resting():
            assert not gc.isenabled()
        assert not gc.isenabled()
    finally:
        gc.enable()
