"""Pages with nothing of ours in them, to measure ours against: a table from a plain queryset, and plain inserts."""

from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.urls import path
from django.utils import timezone

from athletes import access
from athletes.models import AuditEntry, Club
from programs.models import WeekPlan

#: Set by the benchmark: the club whose rows are shown, and how many rows a post writes.
shown: dict[str, Club] = {}
inserts: dict[str, int] = {}

TABLE = """<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>Week</title></head><body><table>
<tr><th>Name</th><th>Squad</th><th>State</th><th>Look at</th><th>Sessions</th></tr>
{% for plan in plans %}<tr><td>{{ plan.rider.given_name }} {{ plan.rider.family_name }}</td>
<td>{{ plan.rider.squad.name }}</td><td>{{ plan.get_state_display }}</td><td>{{ plan.pk }}</td>
<td><ul>{% for session in plan.sessions.all %}<li>{{ session.on }} {{ session.minutes }} min,
{% for item in session.items.all %}{{ item.exercise.name }}{% if not forloop.last %}, {% endif %}{% endfor %}</li>
{% endfor %}</ul></td></tr>{% endfor %}</table></body></html>"""


def table(request: HttpRequest) -> HttpResponse:
    """A row for each plan of the week, with what the desk's row has."""
    with access.within(shown["club"]):
        plans = (
            WeekPlan.objects.filter(iso_week=49, rider__state="active")
            .select_related("rider__squad")
            .prefetch_related("sessions__items__exercise")
        )
        template = engines["django"].from_string(TABLE)
        return HttpResponse(template.render({"plans": plans}))


def insert(request: HttpRequest) -> HttpResponse:
    """So many rows in one transaction, one statement each."""
    with access.within(shown["club"]):
        for number in range(inserts["rows"]):
            AuditEntry.objects.create(
                club=shown["club"], at=timezone.now(), actor="bench", action="insert", subject=str(number)
            )
    return HttpResponse(status=204)


urlpatterns = [path("table/", table), path("insert/", insert)]
