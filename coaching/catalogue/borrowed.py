"""Texts of Django's own forms that riders read. Listed here so that a catalogue may say them in Ballast's own tone.

Django's translations address the reader formally; a catalogue of the project comes before them.
"""

from django.utils.translation import gettext_noop, ngettext_lazy

REQUIRED = gettext_noop("This field is required.")
CHOICE = gettext_noop("Select a valid choice. %(value)s is not one of the available choices.")
CHOICE_ALONE = gettext_noop("Select a valid choice. That choice is not one of the available choices.")
LIST = gettext_noop("Enter a list of values.")
WHOLE_NUMBER = gettext_noop("Enter a whole number.")
NUMBER = gettext_noop("Enter a number.")
DATE = gettext_noop("Enter a valid date.")
VALUE = gettext_noop("Enter a valid value.")
UUID = gettext_noop("Enter a valid UUID.")
AT_MOST = gettext_noop("Ensure this value is less than or equal to %(limit_value)s.")
AT_LEAST = gettext_noop("Ensure this value is greater than or equal to %(limit_value)s.")
LENGTH = ngettext_lazy(
    "Ensure this value has at most %(limit_value)d character (it has %(show_value)d).",
    "Ensure this value has at most %(limit_value)d characters (it has %(show_value)d).",
    "limit_value",
)
DIGITS = ngettext_lazy(
    "Ensure that there are no more than %(max)s digit in total.",
    "Ensure that there are no more than %(max)s digits in total.",
    "max",
)
PLACES = ngettext_lazy(
    "Ensure that there are no more than %(max)s decimal place.",
    "Ensure that there are no more than %(max)s decimal places.",
    "max",
)
NO_NULLS = gettext_noop("Null characters are not allowed.")
