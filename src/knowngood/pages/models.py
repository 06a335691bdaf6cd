"""Who may come in from beyond this machine: one person with a password, and the wrong passwords that were tried."""

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
