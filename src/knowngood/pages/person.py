"""The one person of a bench: the password, whether it is right, and how often a wrong one may be tried.

The counter is our own: django-axes keeps its tables on the default connection, and a bench's store is a connection of
its own for each home. It counts a try before it looks at the password, so that many at once gain nothing.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from knowngood.bench.django_setup import said_plainly
from knowngood.bench.store import Store
from knowngood.errors import LineError
from knowngood.pages.models import Person, WrongPassword

NAME = "bench"
MOST_WRONG = 10
"""Wrong passwords from one address, after which it waits."""

MOST_WRONG_IN_ALL = 50
"""The same from all addresses together, so that many addresses gain nothing either. On this machine one needs none."""

WAIT = timedelta(minutes=15)


class Locked(Exception):
    """Too many wrong passwords."""


def person(store: Store) -> Person | None:
    """The person, if a password was ever set."""
    with said_plainly(store.place):
        found: Person | None = Person.objects.using(store.place.alias).filter(name=NAME).first()
        return found


def set_password(store: Store, password: str) -> None:
    """Sets the password; who came in by the old one is out. Raises LineError for one that is easily guessed."""
    try:
        validate_password(password)
    except ValidationError as error:
        raise LineError(" ".join(error.messages)) from None
    with said_plainly(store.place):
        Person.objects.using(store.place.alias).update_or_create(
            name=NAME, defaults={"password": make_password(password)}
        )


def proved(store: Store, password: str, address: str) -> Person | None:
    """The person if the password is right. Raises Locked if too many were wrong, whatever this one is."""
    with said_plainly(store.place):
        tried = _counted(store, address)
        found = person(store)
        # A hash is made also where there is no password to compare with, so that the time tells nothing.
        right = check_password(password, found.password) if found else not make_password(password)
        if not right:
            return None
        WrongPassword.objects.using(store.place.alias).filter(pk=tried).delete()
        return found


def _counted(store: Store, address: str) -> int:
    now = datetime.now(UTC)
    with transaction.atomic(using=store.place.alias):
        wrong = WrongPassword.objects.using(store.place.alias)
        wrong.filter(time__lt=now - WAIT).delete()
        if wrong.filter(address=address).count() >= MOST_WRONG or wrong.count() >= MOST_WRONG_IN_ALL:
            raise Locked
        return int(wrong.create(time=now, address=address[:64]).pk)
