"""Which texts a rider may read: those that a translation has to be whole for.

The coach's side may stay in English; a rider who reads another language must never meet a sentence that is not in it.
"""

from collections.abc import Mapping
from fnmatch import fnmatch

from coaching.catalogue.extraction import Text
from programs import wording

#: Files all of whose texts riders (or guardians) read.
RIDER_FILES = (
    "athletes/forms/fields.py",
    "athletes/forms/health.py",
    "athletes/forms/languages.py",
    "athletes/notices.py",
    "athletes/questions.py",
    "athletes/readiness.py",
    "athletes/screening.py",
    "athletes/sites.py",
    "athletes/soreness.py",
    "athletes/triage.py",
    "athletes/views/consent_link.py",
    "athletes/views/language_link.py",
    "athletes/words.py",
    "coaching/settings.py",
    "coaching/catalogue/borrowed.py",
    "programs/calendar.py",
    "programs/card.py",
    "programs/documents.py",
    "programs/drawings.py",
    "programs/exercise_words.py",
    "programs/forms/body.py",
    "programs/forms/check_in.py",
    "programs/forms/exercise.py",
    "programs/letters.py",
    "programs/mail.py",
    "programs/notices.py",
    "programs/notices.py",
    "programs/models/checkins.py",
    "programs/rider_pages.py",
    "programs/rider_sentences.py",
    "programs/sheets.py",
    "programs/wording.py",
    "templates/40*.html",
    "templates/500.html",
    "templates/athletes/link_*.html",
    "templates/components/errors.html",
    "templates/components/form.html",
    "templates/components/notice.html",
    "templates/components/safety.html",
    "templates/components/stepper_parts.html",
    "templates/components/trouble.html",
    "templates/components/week_strip.html",
    "templates/django/forms/*",
    "templates/email/*",
    "templates/programs/answer.html",
    "templates/programs/body.html",
    "templates/programs/check_in*.html",
    "templates/programs/no_consent.html",
    "templates/programs/place.html",
    "templates/programs/report.html",
    "templates/programs/rider_page.html",
    "templates/programs/stop_mail.html",
    "templates/programs/urgent.html",
    "templates/programs/warning_line.html",
    "templates/rider_base.html",
)


def rider_texts(texts: Mapping[Text, tuple[str, ...]]) -> list[Text]:
    """The texts that a rider may read, in the order in which they come."""
    told = frozenset(wording.told_to_riders())
    return [text for text, files in texts.items() if text.singular in told or any(map(_is_riders, files))]


def _is_riders(file: str) -> bool:
    return any(fnmatch(file, pattern) for pattern in RIDER_FILES)
