import secrets

from django.db import migrations


def all_of_it(apps, schema_editor):
    """What was short is the least of what is needed beyond a promise. How much it is in all follows from the design,
    which the worker works out as soon as it runs: the job's row is enough."""
    rows = apps.get_model("jobs", "Unmet").objects.all()
    for row in rows:
        row.beyond = [
            {"item": line["item"], "name": line["name"], "more": line["short"], "or": []} for line in row.beyond
        ]
        row.save()
    if rows:
        job = apps.get_model("studio", "BackgroundJob")
        job.objects.create(kind="waiting", subject_id=0, input_key=secrets.token_hex(16))


def what_was_short(apps, schema_editor):
    for row in apps.get_model("jobs", "Unmet").objects.all():
        row.beyond = [{"item": line["item"], "name": line["name"], "short": line["more"]} for line in row.beyond]
        row.save()


class Migration(migrations.Migration):
    dependencies = [
        ("studio", "0003_letters_that_leave_the_studio"),
        ("jobs", "0007_what_a_changed_design_lacks"),
    ]

    operations = [
        migrations.RenameField("Unmet", "missing", "beyond"),
        migrations.RunPython(all_of_it, what_was_short),
    ]
