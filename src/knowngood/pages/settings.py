"""Sets Django up to serve the pages of one home. Called once in a process, before anything else uses Django."""

from __future__ import annotations

import logging
from pathlib import Path

from django.conf import settings
from django.core.management.utils import get_random_secret_key

HERE = Path(__file__).parent
LOOPBACK = ["127.0.0.1", "localhost", "[::1]"]


def configure(home: Path | None) -> None:
    """Pages for the store in ``home`` (else as the terminal finds it), answered on loopback only.

    The host names are checked, so that no page of another site can reach the bench by a name that it points here.
    """
    logging.captureWarnings(True)
    settings.configure(
        INSTALLED_APPS=["knowngood.bench", "knowngood.pages", "django_htmx", "django.contrib.staticfiles"],
        DEFAULT_AUTO_FIELD="django.db.models.BigAutoField",
        USE_TZ=True,
        ROOT_URLCONF="knowngood.pages.urls",
        ALLOWED_HOSTS=LOOPBACK,
        # Nothing that is signed outlives the process: there are no sessions and no logins on loopback.
        SECRET_KEY=get_random_secret_key(),
        MIDDLEWARE=[
            "knowngood.pages.guarding.headers",
            "whitenoise.middleware.WhiteNoiseMiddleware",
            "django.middleware.common.CommonMiddleware",
            "django.middleware.csrf.CsrfViewMiddleware",
            "django_htmx.middleware.HtmxMiddleware",
            "knowngood.pages.guarding.plain_errors",
        ],
        CSRF_COOKIE_HTTPONLY=True,
        CSRF_COOKIE_SAMESITE="Strict",
        CSRF_FAILURE_VIEW="knowngood.pages.guarding.no_token",
        DATA_UPLOAD_MAX_MEMORY_SIZE=256 * 1024,
        DATA_UPLOAD_MAX_NUMBER_FIELDS=200,
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
        KNOWNGOOD_HOME_GIVEN=home,
    )
