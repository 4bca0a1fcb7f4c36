"""The mail that asks for consent: to whom it goes decides what its link opens."""

import email
import re
from email.policy import default

import pytest
from django.utils import timezone

from athletes import access, profiles
from athletes.models import Link
from programs import letters
from tests.people import wexenfold

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("who", "to", "greeted"),
    [("rider", "rider", "Tobias"), ("young_rider", "guardian", "Marit Tollifant")],
)
def test_the_link_knows_whom_the_mail_went_to(client, who, to, greeted):
    people, now = wexenfold(timezone.now()), timezone.now()
    with access.within(people.club):
        profiles.withdraw_consent(rider=getattr(people, who), by=people.coach, now=now)
        delivery = profiles.ask_for_consent(rider=getattr(people, who), by=people.coach, now=now)
        made = letters.make(delivery=delivery, message_id="<a@ballast.example>", now=now)
        assert Link.objects.get(purpose="consent").subject == to
    message = email.message_from_bytes(made, policy=default)
    body = message.get_body(("plain",)).get_content()
    assert message["To"] == delivery.recipient
    assert greeted in body
    path = re.search(r"/l/[^\s>]+", body)[0]
    answer = client.get(path, follow=True)
    assert "May the club keep these health data?" in answer.content.decode()
