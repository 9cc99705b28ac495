"""The jobs that learn and assess; each looks at the rows for what is to be done."""

from celery import shared_task
from django.utils import timezone

from fleet.life import assessments, lasting, learning
from fleet.life.models import LearnedModel


@shared_task
def assess_changed() -> int:
    """Assess the tires whose facts changed; their number is returned."""
    return assessments.assess_changed(at=timezone.now())


@shared_task
def assess_due() -> int:
    """Assess every kept tire once a night and after each learning; their number is returned."""
    at = timezone.now()
    return assessments.assess(assessments.due_tires(at=at), at=at)


@shared_task
def tell_lasting() -> int:
    """Tell riders of sets that are not likely to last their next event; the number of tires told of is returned."""
    return lasting.tell_lasting(at=timezone.now())


@shared_task
def learn_due() -> int:
    """Learn again at night and in the evening where there are new readings; the number of new models is returned."""
    at = timezone.now()
    subjects = [subject for subject in LearnedModel.Subject.values if learning.is_due(subject, at=at)]
    return sum(learning.learn(subject, at=at) is not None for subject in subjects)
