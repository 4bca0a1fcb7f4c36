"""A person with a browser that knows no script, at a web server that really runs."""

import re
import urllib.request
from dataclasses import dataclass
from http.cookiejar import CookieJar
from urllib.parse import urlencode

from athletes import access
from programs.models import WeekPlan
from tests.crowds import Crowd

_TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="([^"]+)"')


@dataclass(frozen=True)
class Answer:
    """What came back, after any redirect."""

    status: int
    address: str
    text: str


class Visitor:
    """Opens pages and sends their forms."""

    def __init__(self, address: str) -> None:
        self.address = address
        self._opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        self._page = ""

    def get(self, path: str) -> Answer:
        """The page."""
        return self._open(self.address + path, None)

    def post(self, path: str, **fields: str) -> Answer:
        """The answer to a form of the page that was opened last."""
        token = _TOKEN.search(self._page)
        assert token, "the last page had no form"
        return self._open(
            self.address + path, urlencode({"csrfmiddlewaretoken": token[1], **fields}).encode()
        )

    def _open(self, address: str, data: bytes | None) -> Answer:
        with self._opener.open(address, data, timeout=60) as answer:
            self._page = answer.read().decode()
            return Answer(answer.status, answer.url, self._page)

    def sign_in(self, mail: str, password: str) -> None:
        """The desk is open."""
        self.get("/sign-in/")
        assert "/sign-in/" not in self.post("/sign-in/", username=mail, password=password).address

    def approve_all(self, crowd: Crowd) -> None:
        """Each waiting plan of the club is approved by its own button."""
        with access.within(crowd.club):
            waiting = list(WeekPlan.objects.filter(state=WeekPlan.State.DRAFT).values_list("pk", flat=True))
        for pk in waiting:
            self.get("/")
            assert self.post(f"/plans/{pk}/approve/", at="desk").status == 200
        with access.within(crowd.club):
            assert not WeekPlan.objects.filter(state=WeekPlan.State.DRAFT).exists()
