"""Every page behind a rider's link, by GET and in answer to an empty form: nothing on it is left in English."""

import pytest

from athletes import access
from athletes.models import Rider
from coaching.catalogue.extraction import Text
from tests.pages import GET, LINK, POST, Page, Visitors, go, pages
from tests.untranslated import untranslated
from tests.world import World, built_world

__all__ = ["built_world", "untranslated"]

pytestmark = pytest.mark.django_db
#: Pages that a rider's or guardian's link opens.
LINK_PAGES = [page for page in pages() if page.access and page.access[0] == "link"]


@pytest.mark.parametrize("page", LINK_PAGES, ids=str)
def test_no_page_behind_a_link_asks_for_a_text_that_french_lacks(
    built_world: World, untranslated: set[Text], page: Page
) -> None:
    season = built_world.ours
    visitors = Visitors(built_world)
    with access.within(season.club):
        Rider.objects.filter(pk=season.people.rider.pk).update(language="fr")
    answers = [go(visitors(LINK, page), page, method, season) for method in (GET, POST)]
    shown = [one for one in answers if one.content]
    assert {one.status_code for one in answers if not one.content} <= {302, 405}
    for one in shown:
        assert '<html lang="fr">' in one.content.decode()
    assert untranslated == set()
