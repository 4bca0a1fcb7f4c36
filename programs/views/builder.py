"""Pages on which a coach writes a squad's program.

Each change answers with the season redrawn in place (htmx), or leads back to the program's page (without JavaScript).
"""

from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes.access import coach_view, found
from athletes.models import Squad
from programs import builder, outlines, plans
from programs.engine.quantities import week_days
from programs.forms.builder import (
    BlockForm,
    NewBlockForm,
    NewProgramForm,
    ProgramForm,
    SlotForm,
    TemplateForm,
    UseForm,
    initial_of_slot,
)
from programs.models import Block, Exercise, Program, SessionTemplate, Slot
from programs.placing import Full
from programs.rails import read_rungs
from programs.views.answers import (
    UNDO_LASTS,
    UNDO_SALT,
    UNDO_SESSION,
    address_of,
    answer_changed,
    answer_form,
    answer_removed,
    answers_gone,
    coach_of,
    form_page,
    full_words,
    places_of,
    season_of,
    too_late_words,
    undo_of,
    way_of,
)

# --- programs ---------------------------------------------------------------------------------------------------------


@coach_view()
@require_safe
def programs(request: HttpRequest) -> HttpResponse:
    """Every squad with its programs."""
    club, now = request.membership.club, timezone.now()  # type: ignore[attr-defined]
    next_on = week_days(plans.coming_week(club, now))[0]
    return render(
        request,
        "programs/builder_list.html",
        {
            "section": "programs",
            "squads": outlines.read_squads(),
            "next_on": next_on,
            "undo": request.session.pop(UNDO_SESSION, None),
        },
    )


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
@answers_gone
def program_new(request: HttpRequest) -> HttpResponse:
    """A new program from the first draft or from another program."""
    membership, now = request.membership, timezone.now()  # type: ignore[attr-defined]
    if not Squad.objects.exists():
        return redirect("programs")
    if request.method != "POST":
        initial = {
            "name": _("Season from {month}").format(month=date_format(now, "F Y")),
            "starts_on": week_days(plans.coming_week(membership.club, now))[0],
            "squad": request.GET.get("squad") or Squad.objects.values_list("pk", flat=True).first(),
            "copied_from": request.GET.get("copied_from"),
        }
        return form_page(request, NewProgramForm(initial=initial), _("New program"), _("Make the program"))
    form = NewProgramForm(request.POST)
    if form.is_valid():
        try:
            program = builder.start(**form.cleaned_data, by=membership, now=now)
        except builder.NameTaken:
            form.add_error("name", _("This squad has a program of that name. Choose another."))
        else:
            return redirect("program", program.pk)
    return form_page(request, form, _("New program"), _("Make the program"))


@coach_view()
@require_safe
def program(request: HttpRequest, program_id: int) -> HttpResponse:
    """One program: the season at a glance, its blocks, what to look at."""
    found(Program, program_id)
    undo = request.session.pop(UNDO_SESSION, None)
    return render(request, "programs/builder.html", season_of(request, program_id, undo=undo))


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
@answers_gone
def program_edit(request: HttpRequest, program_id: int) -> HttpResponse:
    """Its name and first Monday."""
    row = found(Program, program_id)
    initial = {"name": row.name, "starts_on": row.starts_on}
    form = ProgramForm(request.POST if request.method == "POST" else None, initial=initial)
    if form.is_bound and form.is_valid():
        try:
            builder.change(program=row, values=form.cleaned_data, by=coach_of(request), now=timezone.now())
        except builder.NameTaken:
            form.add_error("name", _("This squad has a program of that name. Choose another."))
        else:
            return redirect("program", row.pk)
    return form_page(request, form, _("Name and first Monday"), _("Save the program"), row)


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
@answers_gone
def program_use(request: HttpRequest, program_id: int) -> HttpResponse:
    """Puts it in use from a Monday on."""
    row = found(Program, program_id)
    now = timezone.now()
    next_on = week_days(plans.coming_week(coach_of(request).club, now))[0]
    form = UseForm(
        request.POST if request.method == "POST" else None, initial={"starts_on": max(row.starts_on, next_on)}
    )
    if form.is_bound and form.is_valid():
        try:
            builder.use(program=row, starts_on=form.cleaned_data["starts_on"], by=coach_of(request), now=now)
        except builder.NothingInIt:
            form.add_error(None, _("No session asks for anything yet. Write one first."))
        except builder.StartsTooLate as late:
            form.add_error("starts_on", too_late_words(late))
        else:
            messages.success(request, _("{name} is in use.").format(name=row.name))
            return redirect("program", row.pk)
    return form_page(request, form, _("Put {name} in use").format(name=row.name), _("Put it in use"), row)


@coach_view(plans=True)
@require_POST
@answers_gone
def program_remove(request: HttpRequest, program_id: int) -> HttpResponse:
    """Removes a program that is not in use; the way back is offered."""
    row = found(Program, program_id)
    try:
        removed = builder.remove(program=row, by=coach_of(request), now=timezone.now())
    except builder.InUse:
        messages.warning(request, _("A program in use is not removed. Put another one in use first."))
        return redirect("program", row.pk)
    request.session[UNDO_SESSION] = undo_of(removed, at="programs")
    return redirect("programs")


@coach_view(plans=True)
@require_POST
@answers_gone
def program_undo(request: HttpRequest) -> HttpResponse:
    """Brings back what was removed."""
    try:
        value = signing.loads(request.POST.get("removed", ""), salt=UNDO_SALT, max_age=UNDO_LASTS)
    except signing.BadSignature:
        messages.warning(request, _("It is too late to bring that back."))
        return redirect("programs")
    try:
        row = builder.restore(removed=builder.Removed(**value), by=coach_of(request), now=timezone.now())
    except builder.NameTaken:
        messages.warning(request, _("Not brought back: the squad has a program of that name by now."))
        return redirect("programs")
    except Full:
        messages.warning(request, _("Not brought back: there is no room for it any more."))
        return redirect("programs")
    messages.success(request, _("Brought back."))
    return redirect(address_of(row))


# --- blocks -----------------------------------------------------------------------------------------------------------


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
@answers_gone
def block_new(request: HttpRequest, program_id: int) -> HttpResponse:
    """One more block at the program's end."""
    row = found(Program, program_id)
    last = row.blocks.last()
    initial = {"intent": "build", "weeks": 4, "sessions": 2, "sessions_from": last.pk if last else None}
    data = request.POST if request.method == "POST" else None
    form = NewBlockForm(data, initial=initial, program=row, prefix="block")
    if form.is_bound and form.is_valid():
        values = dict(form.cleaned_data)
        sessions_from = values.pop("sessions_from")
        try:
            block = builder.add_block(
                program=row,
                values=values,
                sessions_from=sessions_from,
                by=coach_of(request),
                now=timezone.now(),
            )
        except Full as full:
            form.add_error("weeks", full_words(full))
        else:
            return answer_changed(request, row.pk, f"block-{block.pk}", form_at="block-new")
    return answer_form(request, form, _("New block"), _("Add the block"), row, "block-new")


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
@answers_gone
def block_edit(request: HttpRequest, block_id: int) -> HttpResponse:
    """A block's intent, name, weeks and sessions a week."""
    row = found(Block, block_id)
    initial = {field: getattr(row, field) for field in builder.BLOCK_VALUES}
    data = request.POST if request.method == "POST" else None
    form = BlockForm(data, initial=initial, prefix=f"block-{row.pk}")
    if form.is_bound and form.is_valid():
        try:
            builder.change_block(
                block=row, values=form.cleaned_data, by=coach_of(request), now=timezone.now()
            )
        except Full as full:
            form.add_error("weeks", full_words(full))
        else:
            where = f"block-{row.pk}"
            return answer_changed(request, row.program_id, where, form_at=where)
    return answer_form(
        request, form, _("Change the block"), _("Save the block"), row.program, f"block-{row.pk}"
    )


@coach_view(plans=True)
@require_POST
@answers_gone
def block_move(request: HttpRequest, block_id: int) -> HttpResponse:
    """A block a place earlier or later."""
    row = found(Block, block_id)
    builder.move_block(block=row, by_places=places_of(request), by=coach_of(request), now=timezone.now())
    return answer_changed(request, row.program_id, f"block-{row.pk}", way_of(request))


@coach_view(plans=True)
@require_POST
@answers_gone
def block_remove(request: HttpRequest, block_id: int) -> HttpResponse:
    """Removes a block; the way back is offered."""
    row = found(Block, block_id)
    removed = builder.remove_block(block=row, by=coach_of(request), now=timezone.now())
    return answer_removed(request, row.program_id, removed, "season")


# --- sessions ---------------------------------------------------------------------------------------------------------


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
@answers_gone
def template_new(request: HttpRequest, block_id: int) -> HttpResponse:
    """One more session in a block."""
    block = found(Block, block_id)
    initial = {"format": "straight", "warm_up_minutes": 6, "cool_down_minutes": 4}
    data = request.POST if request.method == "POST" else None
    form = TemplateForm(data, initial=initial, prefix=f"session-of-{block.pk}")
    if form.is_bound and form.is_valid():
        try:
            row = builder.add_template(
                block=block, values=form.cleaned_data, by=coach_of(request), now=timezone.now()
            )
        except Full as full:
            form.add_error(None, full_words(full))
        else:
            return answer_changed(
                request, block.program_id, f"template-{row.pk}", form_at=f"session-of-{block.pk}"
            )
    where = f"session-of-{block.pk}"
    return answer_form(request, form, _("New session"), _("Add the session"), block.program, where)


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
@answers_gone
def template_edit(request: HttpRequest, template_id: int) -> HttpResponse:
    """A session's name, order of work, warm-up and cool-down."""
    row = found(SessionTemplate, template_id)
    where = f"template-{row.pk}"
    initial = {field: getattr(row, field) for field in builder.TEMPLATE_VALUES}
    data = request.POST if request.method == "POST" else None
    form = TemplateForm(data, initial=initial, prefix=f"template-{row.pk}")
    if form.is_bound and form.is_valid():
        builder.change_template(
            template=row, values=form.cleaned_data, by=coach_of(request), now=timezone.now()
        )
        return answer_changed(request, row.block.program_id, where, form_at=where)
    return answer_form(
        request, form, _("Change the session"), _("Save the session"), row.block.program, where
    )


@coach_view(plans=True)
@require_POST
@answers_gone
def template_move(request: HttpRequest, template_id: int) -> HttpResponse:
    """A session a place earlier or later in its block."""
    row = found(SessionTemplate, template_id)
    builder.move_template(
        template=row, by_places=places_of(request), by=coach_of(request), now=timezone.now()
    )
    return answer_changed(request, row.block.program_id, f"template-{row.pk}", way_of(request))


@coach_view(plans=True)
@require_POST
@answers_gone
def template_remove(request: HttpRequest, template_id: int) -> HttpResponse:
    """Removes a session; the way back is offered."""
    row = found(SessionTemplate, template_id)
    program_id = row.block.program_id
    removed = builder.remove_template(template=row, by=coach_of(request), now=timezone.now())
    return answer_removed(request, program_id, removed, f"block-{removed.parent}")


# --- slots ------------------------------------------------------------------------------------------------------------


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
@answers_gone
def slot_new(request: HttpRequest, template_id: int) -> HttpResponse:
    """One thing more that a session asks for."""
    template = found(SessionTemplate, template_id)
    initial = {"what": "pattern:squat", "part": "main", "sets": 3, "rest_s": 90}
    data = request.POST if request.method == "POST" else None
    form = SlotForm(data, initial=initial, prefix=f"slot-of-{template.pk}")
    if form.is_bound and form.is_valid():
        try:
            row = builder.add_slot(
                template=template, values=form.values(), by=coach_of(request), now=timezone.now()
            )
        except Full as full:
            form.add_error(None, full_words(full))
        else:
            return answer_changed(
                request, template.block.program_id, f"slot-{row.pk}", form_at=f"slot-of-{template.pk}"
            )
    where = f"slot-of-{template.pk}"
    title = _("One more in {name}").format(name=template.name)
    return answer_form(request, form, title, _("Add it"), template.block.program, where)


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
@answers_gone
def slot_edit(request: HttpRequest, slot_id: int) -> HttpResponse:
    """What a slot asks for."""
    row = found(Slot, slot_id)
    data = request.POST if request.method == "POST" else None
    form = SlotForm(data, initial=initial_of_slot(row), prefix=f"slot-{row.pk}")
    if form.is_bound and form.is_valid():
        builder.change_slot(slot=row, values=form.values(), by=coach_of(request), now=timezone.now())
        where = f"slot-{row.pk}"
        return answer_changed(request, row.template.block.program_id, where, form_at=where)
    title = _("Change {name}").format(name=outlines.slot_name(row))
    program_row = row.template.block.program
    family = Exercise.objects.filter(is_retired=False, pattern=row.pattern).order_by("level", "name")
    rungs = read_rungs(list(family), squad=program_row.squad)
    where = f"slot-{row.pk}"
    return answer_form(
        request, form, title, _("Save it"), program_row, where, rungs=rungs, here=row.exercise_id
    )


@coach_view(plans=True)
@require_POST
@answers_gone
def slot_move(request: HttpRequest, slot_id: int) -> HttpResponse:
    """A slot a place earlier or later in its session."""
    row = found(Slot, slot_id)
    builder.move_slot(slot=row, by_places=places_of(request), by=coach_of(request), now=timezone.now())
    return answer_changed(request, row.template.block.program_id, f"slot-{row.pk}", way_of(request))


@coach_view(plans=True)
@require_POST
@answers_gone
def slot_remove(request: HttpRequest, slot_id: int) -> HttpResponse:
    """Removes a slot; the way back is offered."""
    row = found(Slot, slot_id)
    program_id, name = row.template.block.program_id, outlines.slot_name(row)
    removed = builder.remove_slot(slot=row, by=coach_of(request), now=timezone.now())
    return answer_removed(request, program_id, removed, f"template-{removed.parent}", name=name)
