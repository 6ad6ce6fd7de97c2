from django.apps import AppConfig


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = "Inventory"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from classroom.erasing import keepings

        from .erasing import kept

        keepings["inventory"] = kept()
