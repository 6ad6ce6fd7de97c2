"""How students of plans that are there come by their metal.

Approved, issued and closed plans with a stock piece of several students are passed on, with no
holder until a teacher names one. Undecided ones with several students are laid anew.
"""

from django.db import migrations

DECIDED = ("approved", "issued", "closed")
UNDECIDED = ("placing", "proposed")


def say_ways(apps, schema_editor):
    alias = schema_editor.connection.alias
    plans = apps.get_model("studio", "CutPlan").objects.using(alias)
    for pk, state in plans.order_by("pk").values_list("pk", "state"):
        if state in UNDECIDED:
            shares = apps.get_model("studio", "PlanProject").objects.using(alias).filter(plan=pk)
            if shares.count() > 1:
                plans.filter(pk=pk).update(way="")
        elif state in DECIDED:
            plan = plans.only("job", "answer").get(pk=pk)
            if _is_shared(plan.job, plan.answer):
                plans.filter(pk=pk).update(way="passed")


def _is_shared(job, answer):
    """Whether pieces of several groups lie on one stock piece."""
    group = {piece["id"]: piece.get("group") for piece in job["pieces"]}
    on = {}
    for placed in (answer or {}).get("placements", ()):
        on.setdefault(placed["metal"], set()).add(group.get(placed["piece"]))
    return any(len(groups) > 1 for groups in on.values())


class Migration(migrations.Migration):
    dependencies = [("studio", "0011_sharing")]

    operations = [migrations.RunPython(say_ways, migrations.RunPython.noop)]
