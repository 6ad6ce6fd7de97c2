"""What a page shows of each way, without reading its whole answer."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("studio", "0012_ways_of_older_plans")]

    operations = [
        migrations.AddField(
            model_name="waytry",
            name="figures",
            field=models.JSONField(
                default=dict, help_text="Blanks, turns and who laid it, as its answer has them."
            ),
        )
    ]
