"""Who may come in from beyond this machine, the wrong passwords that were tried, and the forms that have acted."""

from __future__ import annotations

from django.contrib.auth.base_user import AbstractBaseUser
from django.db import models


class Person(AbstractBaseUser):
    """The one who runs the bench. Only a hash of the password is stored, by Django's hashers."""

    last_login = None  # when somebody came in is nobody's business
    name = models.CharField(max_length=40, unique=True)
    is_active = True

    USERNAME_FIELD = "name"
    REQUIRED_FIELDS = ()


class WrongPassword(models.Model):
    """A password that was tried and not right: when, and from which address."""

    time = models.DateTimeField(db_index=True)
    address = models.CharField(max_length=64)


class FormDone(models.Model):
    """A form that has acted: its word, and what came of it as JSON."""

    word = models.CharField(max_length=200, unique=True)
    answer = models.TextField()
