"""Wrong tries are counted in a table of the house's own; what was kept before is dropped.

The tables of django-axes hold user names and addresses of people, which nobody would clear away
any more. A pause under way ends with them.
"""

from django.db import migrations, models

EARLIER = (
    "axes_accessattemptexpiration",  # it points at the next one
    "axes_accessattempt",
    "axes_accessfailurelog",
    "axes_accesslog",
)


def drop_earlier_counts(apps, schema_editor):
    for table in EARLIER:
        schema_editor.execute(f"DROP TABLE IF EXISTS {schema_editor.quote_name(table)}")
    schema_editor.execute("DELETE FROM django_migrations WHERE app = 'axes'")
    kinds = apps.get_model("contenttypes", "ContentType").objects.filter(app_label="axes")
    apps.get_model("auth", "Permission").objects.filter(content_type__in=kinds).delete()
    kinds.delete()


class Migration(migrations.Migration):
    dependencies = [
        ("classroom", "0003_a_persons_language"),
        ("contenttypes", "0002_remove_content_type_name"),
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        migrations.CreateModel(
            name="SignInCount",
            fields=[
                ("key", models.CharField(max_length=32, primary_key=True, serialize=False)),
                (
                    "account",
                    models.CharField(
                        blank=True,
                        help_text="Hash of the user name that it is about, if of one.",
                        max_length=32,
                    ),
                ),
                (
                    "level",
                    models.FloatField(
                        default=0, help_text="Wrong tries, less what was forgotten."
                    ),
                ),
                ("counted_at", models.DateTimeField()),
                (
                    "free_at",
                    models.DateTimeField(help_text="Until then no try is looked at."),
                ),
                ("forget_at", models.DateTimeField()),
                (
                    "turn",
                    models.PositiveBigIntegerField(
                        default=0, help_text="Goes up with every change."
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["account"], name="classroom_s_account_a98ff4_idx"),
                    models.Index(fields=["forget_at"], name="classroom_s_forget__74f7d6_idx"),
                ],
            },
        ),
        migrations.RunPython(drop_earlier_counts, migrations.RunPython.noop),
    ]
