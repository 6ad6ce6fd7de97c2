from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("classroom", "0002_printers_and_waiting_files")]

    operations = [
        migrations.AddField(
            "user",
            "language",
            models.CharField(
                blank=True,
                default="",
                help_text="Of bench and safety pages; empty for the school's.",
                max_length=8,
            ),
        ),
    ]
