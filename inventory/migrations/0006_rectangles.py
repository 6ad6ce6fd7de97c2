
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0005_rough_edges'),
    ]

    operations = [
        migrations.AlterField(
            model_name='budget',
            name='cost_policy',
            field=models.CharField(choices=[('shared', 'metal in the pieces, and a share of the waste'), ('school', 'metal in the pieces only'), ('rectangle', 'the rectangle around each piece')], default='shared', max_length=9),
        ),
    ]
