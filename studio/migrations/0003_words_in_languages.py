from django.db import migrations, models


def mark_languages(apps, schema_editor):
    """Words of a school so far were in the school's own language, and said what they said."""
    wordings = apps.get_model("studio", "StepWording")._base_manager.using(
        schema_editor.connection.alias
    )
    for pk, language in wordings.values_list("pk", "school__language"):
        wordings.filter(pk=pk).update(language=language or "en")


class Migration(migrations.Migration):
    dependencies = [
        ("classroom", "0003_a_persons_language"),
        ("studio", "0002_placing_settings"),
    ]

    operations = [
        migrations.AddField(
            "quoteline",
            "facts",
            models.JSONField(
                default=dict,
                help_text="What a consumable's words are made of, for other languages.",
            ),
        ),
        migrations.AlterField(
            "quoteline",
            "text",
            models.CharField(help_text="The words on the day, in English.", max_length=160),
        ),
        migrations.RemoveConstraint("stepwording", "one_wording_per_step_version"),
        migrations.AddField(
            "stepwording",
            "language",
            models.CharField(default="en", max_length=8),
            preserve_default=False,
        ),
        migrations.AddField("stepwording", "says_version", models.PositiveIntegerField(default=0)),
        migrations.AlterField(
            "stepwording",
            "version",
            models.PositiveIntegerField(help_text="Counts the wordings of one language."),
        ),
        migrations.AlterModelOptions(
            "stepwording", {"ordering": ["school", "kind", "language", "-version"]}
        ),
        migrations.RunPython(mark_languages, migrations.RunPython.noop, elidable=True),
        migrations.AddConstraint(
            "stepwording",
            models.UniqueConstraint(
                fields=("school", "kind", "language", "version"),
                name="one_wording_per_step_version",
            ),
        ),
    ]
