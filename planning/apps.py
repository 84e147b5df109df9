from django.apps import AppConfig


class PlanningConfig(AppConfig):
    name = "planning"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from planning import whose  # noqa: F401 -- makes its addresses known
