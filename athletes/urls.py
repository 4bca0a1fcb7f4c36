"""Addresses of people: riders, rosters, squads, races, settings, and the links that riders get."""

from django.urls import path

from athletes import access
from athletes.views import calendars, clubs, consent_link, diary, health, language_link, riders, roster

urlpatterns = [
    path("l/<str:token>/", access.enter, name="link-enter"),
    path("r/<int:link_id>/language/", language_link.language, name="link-language"),
    path("r/<int:link_id>/consent/", consent_link.consent, name="link-consent"),
    path("r/<int:link_id>/consent/withdraw/", consent_link.withdraw, name="link-consent-withdraw"),
    # riders
    path("riders/", riders.riders, name="riders"),
    path("riders/new/", riders.add_rider, name="rider-new"),
    path("riders/ask-for-consent/", riders.ask_all_for_consent, name="riders-ask-consent"),
    path("riders/<int:rider_id>/edit/", riders.edit_rider, name="rider-edit"),
    path("riders/<int:rider_id>/leave/", riders.leave_club, name="rider-leave"),
    path("riders/<int:rider_id>/return/", riders.return_to_club, name="rider-return"),
    path("riders/<int:rider_id>/times/", diary.times, name="rider-times"),
    path("riders/<int:rider_id>/rides/", diary.rides, name="rider-rides"),
    path("riders/<int:rider_id>/bike-hours/", diary.bike_hours, name="rider-bike-hours"),
    path("riders/<int:rider_id>/places/", diary.venues, name="rider-venues"),
    path("riders/<int:rider_id>/places/new/", diary.venue, name="rider-venue-new"),
    path("riders/<int:rider_id>/places/<int:venue_id>/", diary.venue, name="rider-venue"),
    path(
        "riders/<int:rider_id>/places/<int:venue_id>/remove/", diary.remove_venue, name="rider-venue-remove"
    ),
    path("riders/<int:rider_id>/away/", diary.absences, name="rider-absences"),
    path(
        "riders/<int:rider_id>/away/<int:absence_id>/remove/",
        diary.remove_absence,
        name="rider-absence-remove",
    ),
    # health
    path("riders/<int:rider_id>/consent/", health.consent, name="rider-consent"),
    path("riders/<int:rider_id>/consent/ask/", health.ask_consent, name="rider-consent-ask"),
    path("riders/<int:rider_id>/consent/withdraw/", health.withdraw_consent, name="rider-consent-withdraw"),
    path("riders/<int:rider_id>/screening/", health.screening, name="rider-screening"),
    path("riders/<int:rider_id>/screening/answers/", health.answer_screening, name="rider-screening-answer"),
    path(
        "riders/<int:rider_id>/screening/<int:screening_id>/clearance/",
        health.record_clearance,
        name="rider-clearance",
    ),
    path("riders/<int:rider_id>/limits/", health.limits, name="rider-limits"),
    path("riders/<int:rider_id>/limits/<int:limit_id>/end/", health.end_limit, name="rider-limit-end"),
    path("riders/<int:rider_id>/baselines/", health.add_baseline, name="rider-baseline"),
    path(
        "riders/<int:rider_id>/baselines/<int:baseline_id>/remove/",
        health.remove_baseline,
        name="rider-baseline-remove",
    ),
    # rosters
    path("riders/roster/", roster.upload, name="roster-upload"),
    path("riders/roster/<int:roster_id>/columns/", roster.columns, name="roster-map"),
    path("riders/roster/<int:roster_id>/", roster.preview, name="roster-preview"),
    path("riders/roster/<int:roster_id>/discard/", roster.discard, name="roster-discard"),
    # the club
    path("squads/", clubs.squads, name="squads"),
    path("squads/new/", clubs.squad, name="squad-new"),
    path("squads/<int:squad_id>/", clubs.squad, name="squad"),
    path("squads/<int:squad_id>/remove/", clubs.remove_squad, name="squad-remove"),
    path("places/new/", clubs.venue, name="venue-new"),
    path("places/<int:venue_id>/", clubs.venue, name="venue"),
    path("places/<int:venue_id>/remove/", clubs.remove_venue, name="venue-remove"),
    path("races/", calendars.races, name="races"),
    path("races/new/", calendars.race, name="race-new"),
    path("races/upload/", calendars.upload, name="calendar-upload"),
    path("races/<int:race_id>/", calendars.race, name="race"),
    path("races/<int:race_id>/remove/", calendars.remove_race, name="race-remove"),
    path("holidays/new/", calendars.holiday, name="holiday-new"),
    path("holidays/<int:holiday_id>/remove/", calendars.remove_holiday, name="holiday-remove"),
    path("settings/", clubs.settings, name="settings"),
    path("settings/club/", clubs.save_settings, name="settings-club"),
    path("settings/limits/", clubs.confirm_limits, name="settings-limits"),
]
