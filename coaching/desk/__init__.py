"""Read models of the coach's pages: frozen values, read in a fixed number of queries, with no rule of their own."""

from coaching.desk.findings import Kind
from coaching.desk.followups import FollowUpPage, ListPage, read_follow_up, read_list
from coaching.desk.plan import PlanPage, Session, Target, read_plan
from coaching.desk.rider import RiderPage, read_rider
from coaching.desk.week import Entry, Group, WeekDesk, read_week
from coaching.desk.why import WeekWhyPage, WhyPage, read_week_why, read_why

__all__ = [
    "Entry",
    "FollowUpPage",
    "Group",
    "Kind",
    "ListPage",
    "PlanPage",
    "RiderPage",
    "Session",
    "Target",
    "WeekDesk",
    "WeekWhyPage",
    "WhyPage",
    "read_follow_up",
    "read_list",
    "read_plan",
    "read_rider",
    "read_week",
    "read_week_why",
    "read_why",
]
