from django.apps import AppConfig
from django.core import checks
from django.db.models.signals import post_migrate


class RegisterConfig(AppConfig):
    name = "register"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from allauth.mfa.signals import authenticator_added
        from django.contrib.auth.signals import user_logged_in

        from register import sessions
        from register.database.grants import apply_grants
        from register.database.guard import check_database
        from register.images.decoders import check_decoders

        checks.register(checks.Tags.database)(check_database)
        checks.register(check_decoders, deploy=True)
        post_migrate.connect(apply_grants, sender=self)
        user_logged_in.connect(sessions.began)
        user_logged_in.connect(sessions.told_of_reset)
        user_logged_in.connect(sessions.told_of_passphrase)
        authenticator_added.connect(sessions.code_given)
