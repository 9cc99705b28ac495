"""Photos as they are kept: a row here, the picture itself in a file of the data folder."""

from django.db import models

from fleet.records import Noun


class Photo(Noun):
    """One picture that belongs to a fact, which points to it and decides who sees it."""

    kept_at = models.DateTimeField()
    width_px = models.PositiveSmallIntegerField()
    height_px = models.PositiveSmallIntegerField()
    byte_count = models.PositiveIntegerField()
    digest = models.CharField(max_length=64)
