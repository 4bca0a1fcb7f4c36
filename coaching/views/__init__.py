"""The project's own pages."""

from coaching.views.desk import approve_rest, desk, withdraw_batch, work_out_week
from coaching.views.doors import healthz, sign_in, sign_out
from coaching.views.followups import (
    clear_report,
    clear_screening,
    close_follow_up,
    follow_up,
    follow_ups,
    hand_over_follow_up,
    note_follow_up,
    open_follow_up_again,
    put_off_follow_up,
)
from coaching.views.mailbox import caught_mail, caught_message, caught_part
from coaching.views.plans import approve_plan, edit_target, pin_session, plan, withdraw_plan
from coaching.views.riders import pause_rider, resume_rider, rider, work_out_again
from coaching.views.why import why_target, why_week

__all__ = [
    "approve_plan",
    "approve_rest",
    "caught_mail",
    "caught_message",
    "caught_part",
    "clear_report",
    "clear_screening",
    "close_follow_up",
    "desk",
    "edit_target",
    "follow_up",
    "follow_ups",
    "hand_over_follow_up",
    "healthz",
    "note_follow_up",
    "open_follow_up_again",
    "pause_rider",
    "pin_session",
    "plan",
    "put_off_follow_up",
    "resume_rider",
    "rider",
    "sign_in",
    "sign_out",
    "withdraw_batch",
    "why_target",
    "why_week",
    "withdraw_plan",
    "work_out_again",
    "work_out_week",
]
