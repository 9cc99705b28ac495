"""The jobs that learn and assess; each looks at the rows for what is to be done."""

from celery import shared_task
from django.utils import timezone

from fleet.life import assessments, learning
from fleet.life.models import LearnedModel


@shared_task
def assess_changed() -> int:
    """Assess the tires whose facts changed."""
    return assessments.assess_changed(at=timezone.now())


@shared_task
def assess_all() -> int:
    """Assess every tire that was not scrapped: age and learned wear move without new facts."""
    return assessments.assess(None, at=timezone.now())


@shared_task
def learn_all() -> int:
    """Learn again from everybody's readings where there are new ones; the number of new models is returned."""
    at = timezone.now()
    return sum(
        learning.learn(subject, at=at) is not None
        for subject in LearnedModel.Subject.values
        if learning.has_new_readings(subject)
    )
