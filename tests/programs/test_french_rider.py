"""A rider who reads French gets everything in French: mail, card, calendar, check-in, answer, page, consent."""

import io
import re
from decimal import Decimal
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

import icalendar
import pypdf
import pytest
from django.test import Client
from django.utils import translation

from athletes import access, outbox, profiles
from athletes.models import Consent, Delivery, Link, Rider, Screening
from athletes.vocabulary import Implement
from coaching.catalogue.extraction import Text
from programs import facts, letters, plans, wording
from programs.engine import codec
from programs.engine.facts import Done, Holding, Load
from programs.models import Exercise
from tests.programs.rider_visits import AS_PLANNED, Visit, begin, change, hurt
from tests.untranslated import untranslated

__all__ = ["untranslated"]

Purpose = Link.Purpose
pytestmark = pytest.mark.django_db
#: English that a French rider would notice, as whole words. The names of people, clubs and sessions are data.
ENGLISH = re.compile(
    r"\b(the|your|and|with|session|sessions|week|Warm|Cool|rest|lower|leave|reps|hurts?|coach's|reply)\b"
)


@pytest.fixture
def visit(monkeypatch: pytest.MonkeyPatch) -> Visit:
    visit = begin(monkeypatch)
    with visit.within():
        Rider.objects.filter(pk=visit.rider.pk).update(language="fr")
        visit.rider.refresh_from_db()
    return visit


def plain(text: str) -> str:
    """The text with ordinary spaces and apostrophes, on one line."""
    return " ".join(text.replace("\N{NO-BREAK SPACE}", " ").replace("’", "'").split())


def english_in(text: str, *, names: tuple[str, ...]) -> list[str]:
    """The English words of a text, names left out."""
    for name in sorted(names, key=len, reverse=True):
        text = text.replace(name, "")
    return ENGLISH.findall(re.sub(r"https?://\S+", "", text))


def language_of(visit: Visit) -> str:
    with visit.within():
        return Rider.objects.get(pk=visit.rider.pk).language


def names_in(visit: Visit) -> tuple[str, ...]:
    """What people called things: sessions, clubs, places; written by the coach, in the coach's language."""
    with visit.within():
        sessions = visit.plan.sessions.all()
        club = visit.someone.club
        return (*(one.name for one in sessions), club.name, club.emergency_note or "-")


# --- the weekly mail --------------------------------------------------------------------------------------------------


def mail_of(visit: Visit) -> EmailMessage:
    with visit.within():
        delivery = Delivery.objects.select_related("rider", "coach").get(
            rider=visit.rider, kind=plans.WEEK_MAIL
        )
        sent = letters.make(delivery=delivery, message_id="<1@ballast.example>", now=visit.now)
    message = message_from_bytes(sent, policy=policy.default)
    assert isinstance(message, EmailMessage)
    return message


def part_of(message: EmailMessage, kind: str) -> Any:
    (part,) = [part for part in message.walk() if part.get_content_type() == kind]
    return part.get_content()


def test_the_mail_is_in_french_with_french_dates(visit: Visit) -> None:
    message = mail_of(visit)
    assert message["Content-Language"] == "fr"
    assert plain(message["Subject"]) == "Semaine 49 : renforcement mar 1er et jeu 3 décembre"
    text, html = plain(part_of(message, "text/plain")), part_of(message, "text/html")
    assert "renforcement, du 30 novembre au 6 décembre 2026" in text
    assert "1. mardi 1er décembre, 18h30 Session 1, 30 minutes, à la maison." in text
    assert "Prochaine sortie clé : dimanche 6 décembre, 9h00." in text
    assert "SIGNES D'ALERTE Douleur dans la poitrine" in text
    assert "appelle les secours (112 ou numéro local)" in text
    assert re.search(r"Échauffement, \d+ min : Marche rapide", text)
    assert re.search(r"\d x \d+, repos \d+ s", text)
    assert '<html lang="fr">' in html
    assert english_in(text, names=names_in(visit)) == []


def test_the_card_is_in_french(visit: Visit) -> None:
    card = part_of(mail_of(visit), "application/pdf")
    reader = pypdf.PdfReader(io.BytesIO(card), strict=True)
    assert reader.trailer["/Root"]["/Lang"] == "fr"
    assert len(reader.pages) == 1
    text = plain("\n".join(page.extract_text() for page in reader.pages))
    assert "renforcement" in text
    assert "du 30 novembre au 6 décembre 2026" in text
    assert "Signes d'alerte." in text
    assert "Effort 0 à 10" in text
    assert english_in(text, names=names_in(visit)) == []


def test_the_calendar_is_in_french(visit: Visit) -> None:
    file = part_of(mail_of(visit), "text/calendar")
    calendar = icalendar.Calendar.from_ical(file)
    events = calendar.walk("VEVENT")
    assert len(events) == 2
    for event in events:
        said = plain(str(event["description"]))
        assert "Ton bilan après la séance : http" in said
        assert "appelle les secours" in said
        assert english_in(said, names=names_in(visit)) == []


@pytest.mark.parametrize("purpose", [Purpose.PAGE, Purpose.REPORT, Purpose.SESSION])
def test_the_mail_with_a_fresh_link_is_in_french(visit: Visit, purpose: str) -> None:
    with visit.within():
        delivery = outbox.enqueue(
            club_id=visit.someone.club.pk,
            kind=letters.LINK_MAIL,
            dedup_key=f"fresh-{purpose}",
            recipient=visit.rider.email,
            rider=visit.rider,
            channel="account",
            due_at=visit.now,
            now=visit.now,
            payload={"rider": visit.rider.pk, "purpose": purpose},
        )
        sent = letters.make(delivery=delivery, message_id="<2@ballast.example>", now=visit.now)
    message = message_from_bytes(sent, policy=policy.default)
    assert message["Content-Language"] == "fr"
    assert plain(message["Subject"]).startswith("Ton lien : ")
    text = plain(part_of(message, "text/plain"))  # type: ignore[arg-type]  # as the library types it
    assert "Il marche jusqu'au mercredi 2 décembre, " in text
    assert english_in(text, names=names_in(visit)) == []


# --- the check-in and what it leads to --------------------------------------------------------------------------------


def test_the_check_in_its_errors_and_its_answer_are_in_french(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    shown = visit.client.get(address)
    page = shown.content.decode()
    assert shown["Content-Language"] == "fr"
    assert '<html lang="fr">' in page
    assert "Comment ça s’est passé\N{NO-BREAK SPACE}?" in page
    refused = visit.client.post(address, change(visit.fill(address), session__minutes="beaucoup"))
    assert refused.status_code == 422
    told = refused.content.decode()
    assert "Indique un nombre entier." in told
    assert "Choisis\N{NO-BREAK SPACE}: tout, une partie ou rien." in told
    answered = visit.client.post(address, hurt(visit, 6), follow=True)
    answer = plain(answered.content.decode())
    assert "Merci, c'est enregistré" in answer
    assert "Genou (à gauche) : 6 sur 10 (mardi 1er décembre)" in answer
    assert "Consulte un kinésithérapeute ou un médecin" in answer


@pytest.mark.parametrize("typed", ["13,5", "13.5"])
def test_a_load_may_be_typed_with_a_comma_or_a_point(visit: Visit, typed: str) -> None:
    with visit.within():
        item = visit.planned().items.get(pattern="squat")
        load = codec.to_document(Load(Holding(Implement.KETTLEBELL), Decimal("12.5")))
        item.exercise_id, item.target = "goblet-squat", item.target | {"load": load}
        item.save()
    address = visit.open(Purpose.SESSION)
    page = visit.client.get(address).content.decode()
    assert "12,5\N{NO-BREAK SPACE}kg" in page  # as it is read
    assert (
        'value="12.5"' in page
    )  # as a browser's number field wants it, whatever the language (HTML, 2.3.4.3)
    form = visit.fill(address, **AS_PLANNED)
    sent = visit.client.post(address, change(form, **{f"item__{item.pk}__load": typed}))
    assert sent.status_code == 302, sent.content.decode()
    (version,) = visit.versions()
    with visit.within():
        done = codec.from_document(Done, version.items.get(item=item).done)
    assert done.load is not None and done.load.kg == Decimal("13.5")


def test_an_untouched_check_in_is_kept_as_planned_in_french(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    answered = visit.client.post(address, visit.fill(address, **AS_PLANNED))
    assert answered.status_code == 302
    (version,) = visit.versions()
    planned = visit.planned()
    with visit.within():
        for row in version.items.select_related("item"):
            target = facts.read_target(row.item.target)
            done = codec.from_document(Done, row.done)
            assert done.load == target.load
            assert (done.amounts or done.left_amounts) == (target.amount,) * target.sets
    assert version.done_on == planned.on


def test_the_riders_page_is_in_french(visit: Visit) -> None:
    page = plain(re.sub(r"<[^>]+>", " ", visit.client.get(visit.open(Purpose.PAGE)).content.decode()))
    assert "Cette semaine du 30 novembre au 6 décembre 2026" in page
    assert "mardi 1er décembre, " in page
    with visit.within():
        used = {item.exercise_id for item in visit.planned().items.all()}
        names = {one.document["translations"]["fr"]["name"] for one in Exercise.objects.filter(slug__in=used)}
    assert names
    assert all(plain(name) in page for name in names)
    assert english_in(page, names=(*names_in(visit), "English")) == []


# --- the choice -------------------------------------------------------------------------------------------------------


def test_a_rider_chooses_a_language_on_the_page_and_everything_follows(visit: Visit) -> None:
    with visit.within():
        Rider.objects.filter(pk=visit.rider.pk).update(language="en-gb")
    address = visit.open(Purpose.PAGE)
    before = visit.client.get(address)
    assert before["Content-Language"] == "en-gb"
    choice = address.replace("/page/", "/language/")
    assert f'href="{choice}"' in before.content.decode()
    assert 'lang="fr">Français' in before.content.decode()
    after = visit.client.post(choice, {"language": "fr"}, follow=True)
    assert after.redirect_chain == [(address, 302)]
    assert "Mails, fiche et pages arrivent dans cette langue." in after.content.decode()
    assert language_of(visit) == "fr"
    assert mail_of(visit)["Content-Language"] == "fr"


@pytest.mark.parametrize("sent", ["", "xx", "de"])
def test_a_language_that_is_not_spoken_is_refused(visit: Visit, sent: str) -> None:
    address = visit.open(Purpose.PAGE).replace("/page/", "/language/")
    refused = visit.client.post(address, {"language": sent})
    assert refused.status_code == 422
    assert "Choisis une réponse." in refused.content.decode()
    assert language_of(visit) == "fr"


def test_choosing_the_same_language_again_changes_nothing(visit: Visit) -> None:
    with visit.within():
        assert not profiles.choose_language(rider=visit.rider, language="fr", by=visit.rider, now=visit.now)
        assert profiles.choose_language(rider=visit.rider, language="en-gb", by=visit.rider, now=visit.now)


def test_a_link_that_is_over_speaks_what_the_browser_asks_for(client: Client) -> None:
    french = client.get("/l/nothing/", headers={"accept-language": "fr-CA,fr;q=0.9"}).content.decode()
    assert '<html lang="fr">' in french
    assert "Ce lien ne marche plus" in french
    assert '<html lang="en-gb">' in client.get("/l/nothing/").content.decode()


def test_the_coach_reads_english_whatever_the_browser_asks_for(visit: Visit) -> None:
    visit.client.force_login(visit.someone.coach.user)
    for address in ("/", f"/riders/{visit.rider.pk}/", "/sign-in/"):
        shown = visit.client.get(address, headers={"accept-language": "fr"})
        assert shown["Content-Language"] == "en-gb"
        assert '<html lang="en-gb">' in shown.content.decode()


# --- numbers, dates and reasons ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("kg", "said"), [("12", "12 kg"), ("21.25", "21,25 kg"), ("0.5", "0,5 kg")])
def test_masses_have_a_decimal_comma(kg: str, said: str) -> None:
    with translation.override("fr"):
        assert wording.mass_words(Decimal(kg), "kg") == said


def test_a_sentence_about_health_in_french_would_not_be_mailed() -> None:
    for said in (
        "Allégé à cause d'une douleur.",
        "Ta blessure.",
        "Depuis ta maladie.",
        "Après ton opération.",
        "Le médecin.",
    ):
        assert wording.HEALTH_WORDS.search(said), said


# --- nothing is left in English ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("who", ["the rider", "a guardian", "a young rider alone"])
@pytest.mark.parametrize("worst", ["no", "yes", "unsure", ""])
def test_consent_and_health_questions_ask_for_no_text_that_french_lacks(
    visit: Visit, untranslated: set[Text], who: str, worst: str
) -> None:
    rider = visit.rider if who == "the rider" else visit.someone.young_rider
    with visit.within():
        Rider.objects.filter(pk=rider.pk).update(language="fr")
        Consent.objects.filter(rider=rider).delete()
        Screening.objects.filter(rider=rider).delete()
        to = profiles.TO_GUARDIAN if who == "a guardian" else profiles.TO_RIDER
        token = access.make_link(
            rider=rider, purpose=Purpose.CONSENT, subject=to, now=visit.now, lasts=profiles.CONSENT_LINK
        )
    address = visit.client.get(f"/l/{token}/")["Location"]
    shown = [visit.client.get(address)]
    if who != "a young rider alone":
        shown.append(visit.client.post(address, {"step": "consent"}))
        visit.client.post(address, {"step": "consent", "given_by": "Tobias Okeldene", "agrees": "on"})
        shown.append(visit.client.get(address))
        questions = untouched_questions(shown[-1].content.decode())
        assert len(questions) > 8
        answers = {name: value for name in questions if (value := worst if worst in questions[name] else "")}
        shown.append(visit.client.post(address, {"step": "screening", **answers}, follow=True))
        shown.append(visit.client.post(f"{address}withdraw/", follow=True))
    for one in shown:
        assert '<html lang="fr">' in one.content.decode()
    assert untranslated == set()


def untouched_questions(html: str) -> dict[str, set[str]]:
    """The answers that a page offers to each of its questions, by the question's name."""
    offered: dict[str, set[str]] = {}
    for name, value in re.findall(r'<input type="radio" name="([^"]+)" value="([^"]*)"', html):
        offered.setdefault(name, set()).add(value)
    return offered


def test_the_watch_sees_a_text_that_french_lacks(untranslated: set[Text]) -> None:
    with translation.override("fr"):
        assert translation.gettext("Words that nobody translates") == "Words that nobody translates"
        assert translation.gettext("Language") == "Langue"
    assert untranslated == {Text("Words that nobody translates")}
