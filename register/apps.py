from django.apps import AppConfig
from django.core import checks
from django.db.models.signals import post_migrate


class RegisterConfig(AppConfig):
    name = "register"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from register.database.grants import apply_grants
        from register.database.guard import check_database

        checks.register(checks.Tags.database)(check_database)
        post_migrate.connect(apply_grants, sender=self)
