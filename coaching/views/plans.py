"""One plan: looked at, edited, approved, taken back."""

from datetime import date, datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from athletes import access
from athletes.access import coach_view, found
from coaching.desk import PlanPage, Session, Target, read_plan, read_week
from coaching.desk.days import Day
from coaching.desk.words import exercise_names, moment_words
from coaching.forms import OverrideForm, PinForm, TargetForm
from coaching.views.desk import note_reading
from programs import pins, plans, wording
from programs.engine.facts import Week
from programs.engine.safety import Breach
from programs.models import PlannedItem, SessionKey, WeekPlan

#: Where a browser without scripts keeps what can be undone until the page is drawn.
UNDO_SESSION = "plan-undo"
#: What a form says about where its answer belongs.
AT_DESK = "desk"


@coach_view()
@require_safe
def plan(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The plan with its targets, their reasons and what they could be changed to."""
    now = timezone.now()
    found(WeekPlan, plan_id)
    page = _page(request, plan_id, now=now)
    membership = request.membership  # type: ignore[attr-defined]
    if page.shows_health:
        access.record(
            "health.read",
            club_id=membership.club_id,
            by=access.name_of(membership),
            now=now,
            rider=page.plan.rider,
            subject=f"plan:{plan_id}",
        )
    undo = request.session.pop(UNDO_SESSION, None) if request.session.get(UNDO_SESSION) else None
    return render(request, "coaching/plan.html", _context(page, undo=undo))


@coach_view(plans=True)
@require_POST
def approve_plan(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Approves the plan, or says what stands against it and, where a coach may decide, asks for the reason."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    row = found(WeekPlan, plan_id)
    ids = f"override-{plan_id}-%s"
    form = OverrideForm(request.POST, auto_id=ids) if "reason" in request.POST else None
    reason = form.cleaned_data["reason"] if form and form.is_valid() else ""
    try:
        approved = plans.approve(plan=row, by=membership, now=now, override_reason=reason)
    except plans.Refused as refused:
        return _answer(request, row, now=now, status=422, refused=_sentences(refused.breaches))
    except plans.ReasonNeeded as asked:
        form = form or OverrideForm(auto_id=ids)
        return _answer(request, row, now=now, status=422, override=form, asked=_sentences(asked.breaches))
    except plans.NotWaiting:
        messages.warning(request, _("This plan is not waiting any more: it was approved, sent or replaced."))
        return _answer(request, row, now=now)
    week = Week(approved.iso_year, approved.iso_week)
    at = max(now, plans.sends_at(membership.club, week))
    moment = _("now") if at == now else moment_words(at, membership.club.zone)
    messages.success(
        request, _("Approved: {name}. Goes out {moment}.").format(name=approved.rider.name, moment=moment)
    )
    return _answer(request, row, now=now)


@coach_view(plans=True)
@require_POST
def withdraw_plan(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Takes the approval back, as long as nothing has gone out."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    row = found(WeekPlan, plan_id)
    try:
        withdrawn = plans.withdraw_approval(plan=row, by=membership, now=now)
    except plans.AlreadySent:
        messages.warning(
            request, _("This week has gone out. What a rider reports makes a new revision of it.")
        )
    except plans.NotWaiting:
        messages.warning(request, _("This plan is not approved, so there is nothing to take back."))
    else:
        messages.success(request, _("Approval taken back: {name}.").format(name=withdrawn.rider.name))
    return _answer(request, row, now=now)


@coach_view(plans=True)
@require_POST
def edit_target(request: HttpRequest, plan_id: int, item_id: int) -> HttpResponse:
    """Changes one target of a plan that waits. An edit is checked like any other target."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    row = found(WeekPlan, plan_id)
    item = found(PlannedItem, item_id, session__plan_id=plan_id)
    page = _page(request, plan_id, now=now)
    target = page.target(item_id)
    if target is None:
        raise Http404
    form = target_form(target, request.POST)
    if not form.is_valid():
        return _answer(request, row, now=now, status=422, focus=item_id, forms={item_id: form})
    load = next((one for one in target.loads if one.value == form.cleaned_data.get("kg")), None)
    try:
        plans.edit_target(
            item=item,
            sets=form.cleaned_data["sets"],
            amount=form.cleaned_data["amount"],
            kg=load.kg if load else None,
            reason=form.cleaned_data["reason"],
            by=membership,
            now=now,
        )
    except plans.Refused as refused:
        for sentence in _sentences(refused.breaches):
            form.add_error(None, sentence)
        return _answer(request, row, now=now, status=422, focus=item_id, forms={item_id: form})
    except plans.NotWaiting:
        messages.warning(
            request, _("This plan is not waiting any more. Take its approval back to change it.")
        )
    else:
        messages.success(request, _("Changed: {exercise}.").format(exercise=target.exercise))
    return _answer(request, row, now=now, focus=item_id)


@coach_view(plans=True)
@require_POST
def pin_session(request: HttpRequest, plan_id: int, ordinal: int) -> HttpResponse:
    """Pins a session of a plan that waits to a day of its week, or takes its pin away; the week is worked out again."""
    now = timezone.now()
    row = found(WeekPlan, plan_id)
    session = _page(request, plan_id, now=now).session_of(ordinal)
    to = request.POST.get(f"pin-{ordinal}-to", "")
    form = pin_form(session, request.POST) if session is not None and to else None
    if form is not None and not form.is_valid():
        focus = f"pin-{ordinal}"
        return _answer(request, row, now=now, status=422, focus=focus, pins={ordinal: form})
    return _pin(request, row, ordinal, _day_or_404(to) if to else None, form, now=now)


def _day_or_404(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Http404 from None


def _pin(
    request: HttpRequest, row: WeekPlan, ordinal: int, on: date | None, form: PinForm | None, *, now: datetime
) -> HttpResponse:
    focus = f"pin-{ordinal}"
    try:
        pinned = pins.pin(plan=row, ordinal=ordinal, on=on, by=request.membership, now=now)  # type: ignore[attr-defined]
    except SessionKey.DoesNotExist:
        raise Http404 from None
    except plans.NotWaiting:
        messages.warning(
            request, _("This plan is not waiting any more. Take its approval back to change it.")
        )
        return _answer(request, row, now=now, focus=focus)
    except (plans.Refused, pins.DayImpossible) as error:
        breaches = error.breaches if isinstance(error, plans.Refused) else ()
        said = _sentences(breaches) or [_("The session cannot stand on that day any more. Choose another.")]
        if form is None:
            for sentence in said:
                messages.warning(request, sentence)
            return _answer(request, row, now=now, focus=focus)
        for sentence in said:
            form.add_error(None, sentence)
        return _answer(request, row, now=now, status=422, focus=focus, pins={ordinal: form})
    undo = _undo_of(pinned, ordinal, on)
    if pinned.edits_lost:
        messages.warning(request, _("A target that you had changed has no place in the week any more."))
    if not request.htmx:  # type: ignore[attr-defined]
        request.session[UNDO_SESSION] = undo
    answer = _answer(request, pinned.plan, now=now, focus="undo", undo=undo)
    if request.htmx:  # type: ignore[attr-defined]
        answer["HX-Replace-Url"] = reverse("plan", args=[pinned.plan.pk])
    return answer


def _undo_of(pinned: pins.Pinned, ordinal: int, on: date | None) -> dict[str, str]:
    """What was done in a sentence, and what is posted to undo it."""
    name = next((one.name for one in pinned.plan.sessions.all() if one.ordinal == ordinal), "")
    if on is None:
        said = _("{name} is pinned to no day any more.").format(name=name)
    else:
        said = _("{name} is pinned to {day}.").format(name=name, day=wording.day_words(on))
    return {
        "said": said,
        "url": reverse("plan-pin", args=[pinned.plan.pk, ordinal]),
        "key": f"pin-{ordinal}-to",
        "value": pinned.before.isoformat() if pinned.before else "",
    }


# --- inside -----------------------------------------------------------------------------------------------------------


def target_form(target: Target, data: object = None) -> TargetForm:
    """The form of one target, with the loads that its venue has."""
    return TargetForm(
        data,
        prefix=f"target-{target.pk}",
        loads=[(load.value, load.words) for load in target.loads],
        is_hold=target.is_hold,
        initial={"sets": target.sets, "amount": target.amount, "kg": target.kg},
    )


def pin_form(session: Session, data: object = None) -> PinForm:
    """The form of one session: the seven days in order, each with its time, its price and why."""
    return PinForm(
        data,
        prefix=f"pin-{session.ordinal}",
        days=[(day.value, _day_label(day)) for day in session.days],
        impossible=frozenset(day.value for day in session.days if not day.is_free),
        initial={"to": session.on.isoformat()},
    )


def _day_label(day: Day) -> str:
    head = _("{day}, {time}").format(day=day.words, time=day.time) if day.time else day.words
    states = [
        *([_("now")] if day.is_now else []),
        *([_("pinned")] if day.is_pinned else []),
        day.price,
    ]
    return format_html(
        '<b>{}</b> <span class="day-price">{}</span><span class="day-why">{}</span>',
        head,
        ", ".join(states),
        " ".join(day.why),
    )


def _page(request: HttpRequest, plan_id: int, *, now: datetime) -> PlanPage:
    membership = request.membership  # type: ignore[attr-defined]
    return read_plan(
        plan_id,
        club=membership.club,
        may_see_health=membership.sees_health,
        may_plan=membership.plans,
        now=now,
    )


def _context(
    page: PlanPage,
    *,
    forms: dict[int, TargetForm] | None = None,
    pins: dict[int, PinForm] | None = None,
    **more: object,
) -> dict[str, object]:
    """What the plan's template needs. `forms` and `pins` are those that came back with errors, by number."""
    forms, failed = forms or {}, pins or {}
    return {
        "section": "desk",
        "page": page,
        "sessions": [
            {
                "session": session,
                "pin": failed.get(session.ordinal, pin_form(session)),
                "pin_failed": session.ordinal in failed,
                "focus": f"pin-{session.ordinal}",
                "targets": [
                    {
                        "target": target,
                        "form": forms.get(target.pk, target_form(target)) if page.is_draft else None,
                        "failed": target.pk in forms,
                    }
                    for target in session.targets
                ],
            }
            for session in page.sessions
        ],
        "form": next(iter([*forms.values(), *failed.values()]), more.get("override")),
        **more,
    }


def _answer(
    request: HttpRequest,
    row: WeekPlan,
    *,
    now: datetime,
    status: int = 200,
    focus: str | int = "approval",
    **more: object,
) -> HttpResponse:
    """After an action: the entry of the desk or the plan for htmx, the plan when something needs changing, else back
    to where the form came from. `focus` is where the keyboard goes on in a part that htmx replaces."""
    is_at_desk = request.POST.get("at") == AT_DESK
    if request.htmx and is_at_desk:  # type: ignore[attr-defined]
        return _entry(request, row, now=now, status=status, focus=focus, **more)
    if request.htmx:  # type: ignore[attr-defined]
        context = _context(_page(request, row.pk, now=now), focus=focus, **more)  # type: ignore[arg-type]
        return render(request, "coaching/plan.html#answer", context, status=status)
    if status != 200:
        context = _context(_page(request, row.pk, now=now), **more)  # type: ignore[arg-type]
        return render(request, "coaching/plan.html", context, status=status)
    if is_at_desk:
        return redirect("desk-week", year=row.iso_year, number=row.iso_week)
    return redirect("plan", plan_id=row.pk)


def _entry(
    request: HttpRequest, row: WeekPlan, *, now: datetime, status: int, **more: object
) -> HttpResponse:
    membership = request.membership  # type: ignore[attr-defined]
    week = Week(row.iso_year, row.iso_week)
    page = read_week(
        club=membership.club, week=week, may_see_health=membership.sees_health, now=now, by=membership
    )
    note_reading(request, page, now=now)
    entry = page.entry_of(row.rider_id)
    return render(
        request, "coaching/desk.html#entry_answer", {"page": page, "entry": entry, **more}, status=status
    )


def _sentences(breaches: tuple[Breach, ...]) -> list[str]:
    """What stands against the plan, each thing once. Only coaches get here, who may read of health."""
    names = exercise_names()
    return list(dict.fromkeys(wording.sentence(breach.reason, names=names) for breach in breaches))
