"""A roster taken in, in three steps: the file, its columns, a look at what would happen."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from athletes import roster
from athletes.access import coach_view, found
from athletes.forms.uploads import ColumnsForm, EncodingForm, RosterFileForm
from athletes.models import RosterImport, Squad
from athletes.roster_columns import FIELDS
from athletes.spreadsheet import LARGEST_FILE, UnreadableTable, WrongEncoding, read_text
from athletes.times import PARTS_OF_DAY
from athletes.views.riders import member

#: What the form's other parts may take beside the file.
_ROOM = 64 * 1024
_SAMPLE_LINES = 4


def is_too_large(request: HttpRequest, most: int) -> bool:
    """Whether the body cannot hold a file that would be read. Django then leaves the file out without a word."""
    return int(request.META.get("CONTENT_LENGTH") or 0) > most + _ROOM


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def upload(request: HttpRequest) -> HttpResponse:
    """Step 1: the file. One that is not in UTF-8 is offered to be read as what it probably is."""
    if request.method != "POST":
        return _upload_page(request, RosterFileForm())
    if request.POST.get("held"):
        return _read_held(request)
    form = RosterFileForm(request.POST, request.FILES)
    if is_too_large(request, LARGEST_FILE):
        form.errors.pop("file", None)
        form.add_error(
            "file", _("The file is larger than 1 MB. Save only the columns and riders that you need.")
        )
    elif form.is_valid():
        file = form.cleaned_data["file"]
        return _take(request, form, data=file.read(), name=file.name or "", encoding="")
    return _upload_page(request, form)


def _read_held(request: HttpRequest) -> HttpResponse:
    form = EncodingForm(request.POST)
    if not form.is_valid():
        return _upload_page(request, RosterFileForm(), encoding_form=form)
    values = form.cleaned_data
    return _take(request, form, data=values["held"], name=values["name"], encoding=values["encoding"])


def _take(request: HttpRequest, form: Any, *, data: bytes, name: str, encoding: str) -> HttpResponse:
    membership = member(request)
    try:
        made = roster.upload(
            club=membership.club, name=name, data=data, encoding=encoding, by=membership, now=timezone.now()
        )
    except WrongEncoding as why:
        probable = EncodingForm(
            initial={"encoding": why.probable, "name": name[:200], "held": EncodingForm.hold(data)}
        )
        file_form = form if isinstance(form, RosterFileForm) else RosterFileForm({}, {})
        file_form.errors["file"] = file_form.error_class([str(why)])
        lines = read_text(data, encoding=why.probable)[0].splitlines()[:_SAMPLE_LINES]
        return _upload_page(request, file_form, encoding_form=probable, sample=[line[:120] for line in lines])
    except UnreadableTable as why:
        form.add_error(None if isinstance(form, EncodingForm) else "file", str(why))
        if isinstance(form, EncodingForm):
            return _upload_page(request, RosterFileForm(), encoding_form=form)
        return _upload_page(request, form)
    return redirect("roster-map", made.pk)


def _upload_page(request: HttpRequest, form: Any, **context: Any) -> HttpResponse:
    status = 422 if request.method == "POST" else 200
    context = {"section": "riders", "form": form, "fields": FIELDS, "parts": PARTS_OF_DAY, **context}
    context["has_squads"] = Squad.objects.exists()
    return render(request, "athletes/roster_upload.html", context, status=status)


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def columns(request: HttpRequest, roster_id: int) -> HttpResponse:
    """Step 2: what each column holds."""
    row = found(RosterImport, roster_id)
    if row.state != RosterImport.State.OPEN:
        return _is_applied(request)
    form = ColumnsForm(request.POST or None, roster=row)
    if request.method == "POST" and form.is_valid():
        try:
            roster.choose_columns(
                roster=row,
                columns=form.columns(),
                squad=form.cleaned_data["squad"],
                make_squads=form.cleaned_data["make_squads"],
            )
        except roster.AlreadyApplied:
            return _is_applied(request)
        return redirect("roster-preview", row.pk)
    status = 422 if request.method == "POST" else 200
    context = {"section": "riders", "form": form, "roster": row, "has_squads": Squad.objects.exists()}
    return render(request, "athletes/roster_map.html", context, status=status)


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def preview(request: HttpRequest, roster_id: int) -> HttpResponse:
    """Step 3: row by row what would happen; and on POST it does, all of it or nothing."""
    now, row = timezone.now(), found(RosterImport, roster_id)
    status, trouble = 200, ""
    if request.method == "POST":
        try:
            result = roster.apply(roster=row, seen=request.POST.get("seen", ""), by=member(request), now=now)
            text = _(
                "The roster is applied: {create} riders added, {update} changed, {skip} left as they were."
            )
            messages.success(request, text.format(**result))
            return redirect("riders")
        except roster.ChangedSincePreview:
            status = 409
            trouble = _(
                "Something has changed since you looked, so nothing was applied. Look again, then apply."
            )
        except roster.FaultsRemain:
            status, trouble = 422, _("Nothing was applied: some rows have faults.")
        except roster.AlreadyApplied:
            return _is_applied(request)
        except roster.ColumnsUnusable:
            return redirect("roster-map", row.pk)
    try:
        planned = roster.preview(row, now=now)
    except roster.AlreadyApplied:
        return _is_applied(request)
    except roster.ColumnsUnusable:
        return redirect("roster-map", row.pk)
    context = {"section": "riders", "roster": row, "planned": planned, "trouble": trouble}
    return render(request, "athletes/roster_preview.html", context, status=status)


@coach_view(plans=True)
@require_POST
def discard(request: HttpRequest, roster_id: int) -> HttpResponse:
    """The file is forgotten."""
    try:
        roster.discard(roster=found(RosterImport, roster_id), by=member(request), now=timezone.now())
    except roster.AlreadyApplied:
        return _is_applied(request)
    messages.success(request, _("The file is forgotten; nothing of it was applied."))
    return redirect("riders")


def _is_applied(request: HttpRequest) -> HttpResponse:
    messages.info(
        request, _("This file was applied before; its rows are gone. Upload it again to apply it again.")
    )
    return redirect("riders")
