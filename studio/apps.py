"""The studio's place in the house, and the rules it gives to the apps below."""

from django.apps import AppConfig


class StudioConfig(AppConfig):
    name = "studio"
    verbose_name = "Studio"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from classroom.courses import speaks_against_closing

        from .open_work import metal_that_is_out

        if metal_that_is_out not in speaks_against_closing:
            speaks_against_closing.append(metal_that_is_out)
