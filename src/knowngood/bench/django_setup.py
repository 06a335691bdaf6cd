"""Sets Django up as a library: one app, no settings module, one connection for each home.

A home is a directory with the bench's database in it. Several homes can be open in one process.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import dj_database_url
import django
from django.apps import apps
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db import Error as DatabaseError
from django.db import connections, transaction

from knowngood.errors import StoreError

HOME = "KNOWNGOOD_HOME"
DATABASE_URL = "KNOWNGOOD_DATABASE_URL"
FILE = "knowngood.sqlite3"
BUSY_SECONDS = 30.0
"""How long a command waits for another one that is writing."""

SQLITE: Mapping[str, object] = {
    "timeout": BUSY_SECONDS,
    # A transaction that reads and then writes must hold the write lock from its start: two that both read "the last
    # line is 7" would both write line 8.
    "transaction_mode": "IMMEDIATE",
    # FULL, so that a line that was acknowledged survives a power cut and not only a crash.
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
}

OURS = ("knowngood.bench", "knowngood.pages")
"""The apps with tables, as far as they are installed: the terminal knows the first alone."""

HINTS = {
    "locked": f"Another command has been writing for {BUSY_SECONDS:.0f} s. Try again.",
    "full": "The disk is full. Make room and try again.",
    "readonly": "You may not write there. Give yourself the right to, or choose another home.",
    "unable to open": "Its directory must exist and be yours to write in.",
    "not a database": "Something else has that name. Move it away, or choose another home.",
    "malformed": "The file is damaged. Keep a copy of it, and go back to your last backup.",
}
"""What to do, by a word of the database's message."""


@dataclass(frozen=True)
class Place:
    """Where a store is: the name of its Django connection, and the words for it in messages."""

    alias: str
    shown: str


def configure() -> None:
    """Gets Django ready, once; does nothing where a web server has done so already."""
    if not settings.configured and "DJANGO_SETTINGS_MODULE" not in os.environ:
        settings.configure(
            INSTALLED_APPS=["knowngood.bench"],
            DEFAULT_AUTO_FIELD="django.db.models.BigAutoField",
            USE_TZ=True,
        )
    django.setup(set_prefix=False)


def home_directory(home: Path | None = None) -> Path:
    """The home: as given, else KNOWNGOOD_HOME, else 'knowngood' in the user's data directory. Created if need be."""
    found = home or _from_environment()
    try:
        found = found.expanduser().absolute()
        found.mkdir(parents=True, exist_ok=True)
    except (OSError, RuntimeError) as error:
        reason = getattr(error, "strerror", None) or error
        raise StoreError(
            f"The home '{found}' cannot be created: {reason}. Name a directory that you may write in, "
            f"with --home or in {HOME}."
        ) from None
    return found


def _from_environment() -> Path:
    if os.environ.get(HOME):
        return Path(os.environ[HOME])
    data = os.environ.get("XDG_DATA_HOME")
    # The XDG specification has relative paths there ignored.
    base = Path(data) if data and Path(data).is_absolute() else Path("~/.local/share")
    return base / "knowngood"


def open_place(home: Path | None = None) -> Place:
    """The place of a home's store (or of KNOWNGOOD_DATABASE_URL), reachable and with its tables up to date."""
    place = _declared(home)
    with said_plainly(place):
        _bring_up_to_date(place)
    return place


def _declared(home: Path | None) -> Place:
    url = os.environ.get(DATABASE_URL)
    database: dict[str, Any]
    if url:
        try:
            database = dict(dj_database_url.parse(url))
        except ValueError as error:
            raise StoreError(f"{DATABASE_URL} is not understood: {error} Write it as 'sqlite:////path/file'.") from None
    else:
        database = {"ENGINE": "django.db.backends.sqlite3", "NAME": str(home_directory(home) / FILE)}
    if database["ENGINE"].endswith("sqlite3"):
        if database["NAME"] == ":memory:":
            raise StoreError(f"{DATABASE_URL} names no file, so nothing would last. Write 'sqlite:////path/file'.")
        database["NAME"] = str(Path(database["NAME"]).absolute())
        database["OPTIONS"] = {**SQLITE, **database.get("OPTIONS", {})}
    # The full description is the alias, so that the same store is the same connection. It may hold a password: it is
    # never shown.
    place = Place(url or database["NAME"], database["NAME"])
    if place.alias not in connections.settings:
        complete = connections.configure_settings({"default": {}, place.alias: database})
        connections.settings[place.alias] = complete[place.alias]
    return place


def _bring_up_to_date(place: Place) -> None:
    """Runs the migrations that are missing. One query when none is; Django's machinery is not even imported."""
    connection = connections[place.alias]
    ours = [app for app in OURS if apps.is_installed(app)]
    if not any(_missing(place, app) for app in ours):
        return
    from django.db.migrations.executor import MigrationExecutor

    # SQLite takes a change of tables inside a transaction only with foreign keys off; one transaction around all makes
    # a second process wait and then find the work done.
    with connection.constraint_checks_disabled(), transaction.atomic(using=place.alias):
        for app in ours:
            if _missing(place, app):
                executor = MigrationExecutor(connection)
                executor.migrate(executor.loader.graph.leaf_nodes(_label(app)))


def _label(app: str) -> str:
    return app.rpartition(".")[2]


def _missing(place: Place, app: str) -> set[str]:
    folder = Path(__file__).parents[1] / _label(app) / "migrations"
    shipped = {path.stem for path in folder.glob("[0-9]*.py")}
    connection = connections[place.alias]
    applied: set[str] = set()
    if "django_migrations" in connection.introspection.table_names():
        with connection.cursor() as cursor:
            cursor.execute("SELECT name FROM django_migrations WHERE app = %s", [_label(app)])
            applied = {name for (name,) in cursor.fetchall()}
    if applied - shipped:
        raise StoreError(
            f"{place.shown} was written by a newer knowngood (it has '{max(applied - shipped)}'). "
            "Update this one; nothing was changed."
        )
    return shipped - applied


@contextmanager
def said_plainly(place: Place) -> Iterator[None]:
    """Turns what a database complains of into a StoreError that says where, what and what to do."""
    try:
        yield
    except ImproperlyConfigured as error:
        raise StoreError(f"{place.shown}: {error} Install what that database needs.") from None
    except DatabaseError as error:
        message = str(error).strip().rstrip(".") or type(error).__name__
        hint = next((hint for word, hint in HINTS.items() if word in message), "")
        raise StoreError(f"{place.shown}: {message}. Nothing was stored. {hint}".rstrip()) from None
