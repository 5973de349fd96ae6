"""Families of outcomes: what a wear is counted for, each by itself."""

from django.db import models


class Family(models.TextChoices):
    """A wear may be counted in one family and still wait in another: company is counted family by family."""

    ACCURACY = "accuracy"
    SURVIVAL = "survival"
    SKIN = "skin"
    EASE = "ease"
    COMFORT = "comfort"
    DISCRETION = "discretion"
