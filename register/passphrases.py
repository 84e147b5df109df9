"""What a passphrase must not be, in the words of this register; the rules are Django's."""

from django.contrib.auth.password_validation import (
    CommonPasswordValidator,
    MinimumLengthValidator,
    UserAttributeSimilarityValidator,
)


class LongEnough(MinimumLengthValidator):
    """Long enough that trying takes too long."""

    def get_error_message(self) -> str:
        return f"Passphrase: use at least {self.min_length} characters, for example four words."


class NotCommon(CommonPasswordValidator):
    """Not one of the thousands that are tried first."""

    def get_error_message(self) -> str:
        return "Passphrase: this one is tried first by everybody who guesses. Use other words."


class NotTheName(UserAttributeSimilarityValidator):
    """Not what everybody knows of the person."""

    def get_error_message(self) -> str:
        return "Passphrase: it is too like the name of the person. Use other words."
