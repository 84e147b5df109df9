"""The log tells where something failed, never whose record it was."""

import io
import logging

from register.config.logs import NoIdentities


def logged(error: Exception) -> str:
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(NoIdentities("{message}", style="{"))
    logger = logging.Logger("test")
    logger.addHandler(handler)
    try:
        try:
            raise ValueError("999 000 0018 inside")
        except ValueError:
            raise error from None
    except Exception:
        logger.exception("Internal Server Error: /patients/7/")
    return stream.getvalue()


def test_the_words_of_an_error_stay_out_of_the_log():
    text = logged(KeyError("ARDEN, Maud"))
    assert "ARDEN" not in text
    assert "KeyError" in text
    assert "test_logs.py" in text


def test_neither_do_the_words_of_the_error_before_it():
    number = "".join(["999", "000", "0018"])
    try:
        try:
            raise ValueError(number)
        except ValueError as first:
            raise RuntimeError(number) from first
    except RuntimeError as error:
        info = (type(error), error, error.__traceback__)
    text = NoIdentities().formatException(info)
    assert number not in text
    assert "ValueError" in text
    assert "RuntimeError" in text
