"""The columns of a roster: what each may hold, and which one a heading probably means. Pure.

>>> guess_columns(("E-Mail", "Surname", "First name", "DOB", "Tel."))
{0: 'email', 1: 'family_name', 2: 'given_name', 3: 'birth_year'}
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

#: What a column may hold, in the order in which a coach reads it, with its name.
FIELDS: dict[str, str | Promise] = {
    "given_name": _("given name"),
    "family_name": _("family name"),
    "full_name": _("full name, given name first"),
    "email": _("mail address"),
    "birth_year": _("birth year, or birth date"),
    "squad": _("squad"),
    "guardian_name": _("guardian's name"),
    "guardian_email": _("guardian's mail address"),
    "language": _("language"),
    "unit": _("unit of mass, kg or lb"),
    "minutes_cap": _("longest session in minutes"),
    "trains_alone": _("trains alone, yes or no"),
    "kit": _("kit at home"),
    "days": _("times to train"),
    "rides": _("key rides"),
    "note": _("note, no health details"),
}

#: Headings that mean a field, folded by `fold`. A field's own key is one, too.
SYNONYMS: dict[str, tuple[str, ...]] = {
    "given_name": ("first name", "forename", "given", "christian name", "vorname", "prenom", "nombre", "voornaam",
                   "nome"),
    "family_name": ("last name", "surname", "family", "second name", "nachname", "nom", "apellido", "apellidos",
                    "achternaam", "cognome", "familienname"),
    "full_name": ("name", "rider", "rider name", "member", "member name", "athlete", "full name"),
    "email": ("mail", "e mail", "email address", "mail address", "e mail address", "rider mail", "rider email",
              "member email", "courriel", "correo"),
    "birth_year": ("year of birth", "birthyear", "born", "yob", "birth date", "date of birth", "dob", "birthday",
                   "birthdate", "geburtsdatum", "geburtsjahr", "jahrgang", "date de naissance", "geboortedatum"),
    "squad": ("group", "team", "training group", "section", "gruppe", "groupe", "grupo", "ploeg"),
    "guardian_name": ("guardian", "parent", "parent name", "guardians name", "parents name", "parent or guardian",
                      "parent guardian", "contact name"),
    "guardian_email": ("parent mail", "parent email", "guardian mail", "guardians mail", "guardians email",
                       "parents email", "parents mail", "parent guardian email", "guardian mail address",
                       "guardian email address", "parent email address"),
    "language": ("speaks", "reads", "mother tongue", "langue", "sprache", "idioma", "taal", "lingua"),
    "unit": ("units", "unit of mass", "weight unit", "kg or lb", "kg lb"),
    "minutes_cap": ("minutes", "longest session", "session minutes", "max minutes", "time per session", "minutes cap",
                    "longest session in minutes"),
    "trains_alone": ("alone", "trains alone", "trains on their own"),
    "kit": ("equipment", "kit at home", "home kit", "gear"),
    "days": ("availability", "times", "available", "training days", "training times", "times to train", "openings",
             "when"),
    "rides": ("key rides", "hard rides", "key ride", "club rides"),
    "note": ("notes", "comment", "comments", "remark", "remarks"),
}  # fmt: skip

#: Without this no row can be told from another.
NEEDED = "email"


def fold(heading: str) -> str:
    """A heading without case, accents, and signs.

    >>> fold(" Guardian's E-Mail: ")
    'guardians email'
    """
    plain = unicodedata.normalize("NFKD", heading.casefold()).replace("'", "").replace("\u2019", "")
    letters = "".join(character for character in plain if not unicodedata.combining(character))
    return " ".join(re.findall(r"[a-z0-9]+", letters)).replace("e mail", "email")


_MEANINGS = {
    fold(word): field for field in FIELDS for word in (field.replace("_", " "), *SYNONYMS[field])
}  # folded heading -> field


def guess_columns(headings: Sequence[str]) -> dict[int, str]:
    """The field that each column probably holds, by position from 0; columns that say nothing are left out, and a
    second column of the same meaning too."""
    found: dict[int, str] = {}
    for position, heading in enumerate(headings):
        field = _MEANINGS.get(fold(heading))
        if field and field not in found.values():
            found[position] = field
    if {"given_name", "family_name"} <= set(found.values()):
        found = {position: field for position, field in found.items() if field != "full_name"}
    return found


def faults_of(columns: Mapping[int, str]) -> list[str]:
    """What is wrong with a choice of columns, as sentences; nothing when it can be used."""
    chosen = list(columns.values())
    faults = [
        str(_("More than one column is the {field}. Choose one.")).format(field=FIELDS[field])
        for field in FIELDS
        if chosen.count(field) > 1
    ]
    if NEEDED not in chosen:
        faults.append(str(_("No column is the mail address. Riders are told apart by it.")))
    if "full_name" in chosen and not {"given_name", "family_name"}.isdisjoint(chosen):
        faults.append(str(_("Choose the full name, or the given name and the family name, not both.")))
    return faults


def used(columns: Mapping[str, str] | Mapping[int, str]) -> dict[int, str]:
    """A stored choice (JSON has text for keys) with positions as numbers, unknown fields left out."""
    return {int(position): field for position, field in columns.items() if field in FIELDS}


def field_names(fields: Iterable[str]) -> str:
    """The names of fields in one line."""
    return ", ".join(str(FIELDS[field]) for field in fields)
