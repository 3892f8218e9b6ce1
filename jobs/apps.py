from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
    verbose_name = "Jobs"

    def ready(self) -> None:
        # Here rather than in decor/__init__.py, which must stay free of Celery and Django.
        from decor.celery import app  # noqa: F401
        from decor.studio import commands
        from inventory import links, rising, unpromised, whose
        from inventory.tables import uses
        from jobs.designs import changed
        from jobs.designs.table import who

        # By their paths: nothing of the rooms is loaded before a command comes.
        commands.register("chart.paint", "jobs.desk.following.chart_paint")
        commands.register("row_loaded", "jobs.designs.table.commands.row_loaded")
        commands.register("row_unloaded", "jobs.designs.table.commands.row_unloaded")
        for name in ("item_picked", "item_returned", "return_undone", "item_counted"):
            commands.register(name, f"inventory.picks.commands.{name}")
        who.ask("jobs.crew.services.works_on")
        whose.ask("jobs.crew.services.works_for")
        changed.ask("jobs.desk.following.followed_words")
        changed.ask_standing("jobs.desk.following.standing_words")
        uses.ask("jobs.designs.in_use.items_drawn")
        links.ask("jobs.desk.stock.event_pages")
        unpromised.ask("jobs.desk.unmet.needs")
        unpromised.ask_open("jobs.desk.unasked.needs")
        rising.ask("jobs.desk.waiting.stock_rose")
