"""The Celery application: `celery -A coaching worker` and `celery -A coaching beat`."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coaching.settings")
app = Celery("coaching")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["programs", "coaching"])
