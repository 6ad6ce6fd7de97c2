from django.apps import AppConfig


class ClassroomConfig(AppConfig):
    name = "classroom"
    verbose_name = "Classroom"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from .erasing import keepings, own

        keepings["classroom"] = own.kept()
