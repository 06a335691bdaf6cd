"""Sets Django up to serve the pages of one home. Called once in a process, before anything else uses Django."""

from __future__ import annotations

import logging
from pathlib import Path

from django.conf import settings
from django.core.management.utils import get_random_secret_key

SHORTEST_PASSWORD = 10
LOOPBACK = ["127.0.0.1", "localhost", "[::1]"]


def configure(home: Path | None) -> None:
    """Pages for the store in ``home`` (else as the terminal finds it), answered to loopback's names, and to what
    ``network`` adds to them while it is open.

    The host names are checked, so that no page of another site can reach the bench by a name that it points here.
    """
    logging.captureWarnings(True)
    settings.configure(
        INSTALLED_APPS=[
            "knowngood.bench",
            "knowngood.pages",
            "django_htmx",
            "django.contrib.staticfiles",
            # For their code alone: their own tables, made for many people, are not in a bench's store.
            "django.contrib.auth",
            "django.contrib.contenttypes",
        ],
        DEFAULT_AUTO_FIELD="django.db.models.BigAutoField",
        USE_TZ=True,
        ROOT_URLCONF="knowngood.pages.urls",
        ALLOWED_HOSTS=[*LOOPBACK],
        # Nothing that is signed outlives the process, and no session does.
        SECRET_KEY=get_random_secret_key(),
        MIDDLEWARE=[
            "knowngood.pages.guarding.headers",
            "knowngood.pages.guarding.not_too_large",
            "whitenoise.middleware.WhiteNoiseMiddleware",
            "django.middleware.common.CommonMiddleware",
            "django.contrib.sessions.middleware.SessionMiddleware",
            "django.middleware.csrf.CsrfViewMiddleware",
            "django.contrib.auth.middleware.AuthenticationMiddleware",
            "django_htmx.middleware.HtmxMiddleware",
            "knowngood.pages.login.guard",
            "knowngood.pages.joining.confined",
            "knowngood.pages.reading.meanwhile",
            "knowngood.pages.words.one_sign",
            "knowngood.pages.guarding.plain_errors",
        ],
        AUTH_USER_MODEL="pages.Person",
        AUTHENTICATION_BACKENDS=["knowngood.pages.login.Backend"],
        PASSWORD_HASHERS=["django.contrib.auth.hashers.ScryptPasswordHasher"],
        AUTH_PASSWORD_VALIDATORS=[
            {
                "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
                "OPTIONS": {"min_length": SHORTEST_PASSWORD},
            },
            {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
            {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
        ],
        SESSION_ENGINE="django.contrib.sessions.backends.cache",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",  # "Strict" would keep the cookie from the page that a scanned code opens
        SESSION_COOKIE_AGE=12 * 3600,
        CACHES={
            "default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "OPTIONS": {"MAX_ENTRIES": 1000}}
        },
        LOGIN_URL="login",
        CSRF_COOKIE_HTTPONLY=True,
        CSRF_COOKIE_SAMESITE="Strict",
        CSRF_FAILURE_VIEW="knowngood.pages.guarding.no_token",
        DATA_UPLOAD_MAX_MEMORY_SIZE=256 * 1024,
        DATA_UPLOAD_MAX_NUMBER_FIELDS=200,
        DATA_UPLOAD_MAX_NUMBER_FILES=200,
        TEMPLATES=[
            {
                "BACKEND": "django.template.backends.django.DjangoTemplates",
                "APP_DIRS": True,
                "OPTIONS": {
                    "builtins": ["knowngood.pages.words"],
                    "context_processors": ["django.template.context_processors.request"],
                    "string_if_invalid": "",
                },
            }
        ],
        STATIC_URL="/static/",
        WHITENOISE_USE_FINDERS=True,
        WHITENOISE_AUTOREFRESH=False,
        WHITENOISE_MAX_AGE=3600,
        # Without this the trace of a mistake of ours would be written nowhere.
        LOGGING={
            "version": 1,
            "disable_existing_loggers": False,
            "handlers": {"terminal": {"class": "logging.StreamHandler"}},
            "loggers": {"django.request": {"handlers": ["terminal"], "level": "ERROR"}},
        },
        KNOWNGOOD_HOME_GIVEN=home,
    )
