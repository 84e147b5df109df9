from django.apps import AppConfig


class RegisterConfig(AppConfig):
    name = "register"
    default_auto_field = "django.db.models.BigAutoField"
