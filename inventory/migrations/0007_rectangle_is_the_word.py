"""A blank is metal parted from a sheet now; what a piece is paid by has the name rectangle."""

from django.db import migrations


def to_rectangle(apps, schema_editor):
    _budgets(apps, schema_editor).filter(cost_policy="blank").update(cost_policy="rectangle")


def to_blank(apps, schema_editor):
    _budgets(apps, schema_editor).filter(cost_policy="rectangle").update(cost_policy="blank")


def _budgets(apps, schema_editor):
    return apps.get_model("inventory", "Budget").objects.using(schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0006_rectangles")]

    operations = [migrations.RunPython(to_rectangle, to_blank)]
