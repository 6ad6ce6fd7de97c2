
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0007_rectangle_is_the_word'),
        ('studio', '0013_figures_of_ways'),
    ]

    operations = [
        migrations.AddField(
            model_name='partentry',
            name='made',
            field=models.ForeignKey(blank=True, help_text='The stock piece that the part became; none where it was spoilt.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='part_entries', to='inventory.stockpiece'),
        ),
    ]
