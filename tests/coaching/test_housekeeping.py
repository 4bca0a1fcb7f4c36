"""The daily tidying."""

from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from django.utils import timezone

from athletes import access
from athletes.models import Heartbeat, Link
from coaching import tasks
from tests import people


@pytest.mark.django_db
def test_what_has_outlived_its_use_goes_and_the_rest_stays() -> None:
    someone = people.wexenfold()
    now = timezone.now()
    with access.within(someone.club):
        for days in (90, 1):
            access.make_link(
                rider=someone.rider, purpose="page", now=now - timedelta(days=days), lasts=timedelta(hours=1)
            )
    Session.objects.create(session_key="over", session_data="", expire_date=now - timedelta(hours=1))
    Session.objects.create(session_key="running", session_data="", expire_date=now + timedelta(hours=1))
    assert tasks.keep_house() == 2
    with access.within(someone.club):
        assert Link.objects.count() == 1
    assert list(Session.objects.values_list("session_key", flat=True)) == ["running"]
    assert Heartbeat.objects.get(job="keep-house").result == {"done": 2, "error": ""}
