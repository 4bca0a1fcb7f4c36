"""The bell that wakes a worker, so that mail due now goes at once and not at the next tick.

Ringing is a courtesy: the row in the outbox is what counts, and the ticker finds it. So a bell that cannot be rung is
counted and logged, never waited for, and holds nothing up.
"""

import logging
import time

from celery import current_app
from django.conf import settings
from django.db import connection, transaction

log = logging.getLogger(__name__)
#: After a ring that failed nobody rings again for so long: a broker that hangs must not slow each request.
QUIET_SECONDS = 30.0


class Bell:
    """Rings by a Celery message of the task, `settings.MAIL_TASK` by default. `failures` counts rings not heard."""

    def __init__(self, task: str = "") -> None:
        self.task = task
        self.failures = 0
        self._quiet_until = 0.0

    def ring(self) -> bool:
        """A worker will look for what is due. False when the broker could not be told."""
        if time.monotonic() < self._quiet_until:
            return False
        try:
            current_app.send_task(self.task or settings.MAIL_TASK, retry=False)
        except Exception as error:  # whatever is wrong with the broker, the row is there
            self.failures += 1
            self._quiet_until = time.monotonic() + QUIET_SECONDS
            log.warning("no worker could be woken: %s", error)
            return False
        return True


_bell = Bell()


def ring() -> None:
    """Rings this process's bell."""
    _bell.ring()


def ring_after_commit() -> None:
    """Rings once the transaction has committed, once however often this is asked."""
    if not any(waiting[1] is ring for waiting in connection.run_on_commit):
        transaction.on_commit(ring)
