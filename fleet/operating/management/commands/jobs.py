"""``manage.py jobs``: how every job fares, and ``--run NAME`` to have one run again."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.accounts.policy import SERVICE
from fleet.errors import Refusal
from fleet.operating import states
from fleet.operating.actions import run_job
from fleet.operating.health import LIMIT
from fleet.operating.models import JobState


class Command(BaseCommand):
    """Show how the jobs fare, or have one run again."""

    help = "Show every job: when it last ended well, and what is wrong with it; --run has one run again now."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare which job to run."""
        parser.add_argument(
            "--run", metavar="NAME", help="the job to run again, such as fleet.life.tasks.learn_due"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Run a job, or list them."""
        if options["run"]:
            try:
                run_job(by=SERVICE, at=timezone.now(), name=options["run"])
            except Refusal as refusal:
                raise CommandError(refusal.sentence) from refusal
            self.stdout.write(f"{options['run']} is sent to the workers.")
            return
        lost = states.lost(before=timezone.now() - LIMIT)
        for job in JobState.objects.order_by("name"):
            well = f"well {job.succeeded_at:%Y-%m-%d %H:%M:%S}" if job.succeeded_at else "never well yet"
            self.stdout.write(f"{job.name}: {well}")
            if job.failures:
                self.stdout.write(
                    f"    failed {job.failures} in a row since {job.failing_since:%Y-%m-%d %H:%M:%S}: {job.reason}, "
                    f"task {job.task_id}"
                )
            if job in lost:
                self.stdout.write(
                    f"    began {job.started_at:%Y-%m-%d %H:%M:%S} and never ended: its worker was killed, task {job.task_id}"
                )
