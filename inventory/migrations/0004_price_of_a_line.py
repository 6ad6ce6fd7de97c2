"""A price that was written down with a purchase names its line, and follows what is corrected."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import django.db.models.deletion
from django.db import migrations, models


def name_lines(apps: Any, schema_editor: Any) -> None:
    """Each price that was written down with a purchase, as its values tell it.

    Only where no other price may be meant: as many equal prices as equal lines.
    """
    name = schema_editor.connection.alias
    prices = apps.get_model("inventory", "MetalPrice").objects.using(name)
    written = defaultdict(list)
    for price in prices.filter(correction=None, withdrawn=False).order_by("pk"):
        key = price.metal_id, price.amount, price.width_mm, price.height_mm, price.dated
        written[*key, price.remark].append(price.pk)
    lines = defaultdict(list)
    rows = apps.get_model("inventory", "PurchaseLine").objects.using(name)
    for line in rows.filter(count__gt=0).select_related("purchase").order_by("pk"):
        # As `money.even_shares`: the first sheets bear the cents that are left over.
        cents = int((line.total - line.extras) * 100)
        amount = -(-cents // line.count)
        remark = f"bought {line.purchase.seller}".strip()[:120]
        size = line.width_mm, line.height_mm
        lines[line.metal_id, amount, *size, line.purchase.bought_on, remark].append(line.pk)
    for (metal, amount, *rest), prices_of in written.items():
        lines_of = lines.get((metal, int(amount * 100), *rest), [])
        if len(lines_of) == len(prices_of):
            for price, line in zip(prices_of, lines_of, strict=True):
                prices.filter(pk=price).update(purchase_line=line)
    # Else PostgreSQL refuses the index that is made at the end.
    schema_editor.connection.check_constraints(["inventory_metalprice"])


class Migration(migrations.Migration):
    dependencies = [("inventory", "0003_corrected_figures")]

    operations = [
        migrations.AddField(
            model_name="metalprice",
            name="purchase_line",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="prices",
                to="inventory.purchaseline",
            ),
        ),
        migrations.RunPython(name_lines, migrations.RunPython.noop),
    ]
