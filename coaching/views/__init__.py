"""The project's own pages."""

from coaching.views.desk import desk
from coaching.views.doors import healthz, sign_in, sign_out
from coaching.views.mailbox import caught_mail, caught_message, caught_part

__all__ = ["caught_mail", "caught_message", "caught_part", "desk", "healthz", "sign_in", "sign_out"]
