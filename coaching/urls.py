"""Every address of the project."""

from django.urls import include, path

from coaching import views

urlpatterns = [
    path("", views.desk, name="desk"),
    path("week/<int:year>/<int:number>/", views.desk, name="desk-week"),
    path("week/<int:year>/<int:number>/work-out/", views.work_out_week, name="week-work-out"),
    path("week/<int:year>/<int:number>/approve/", views.approve_rest, name="week-approve"),
    path("week/<int:year>/<int:number>/take-back/", views.withdraw_batch, name="week-take-back"),
    path("plans/<int:plan_id>/", views.plan, name="plan"),
    path("plans/<int:plan_id>/why/", views.why_week, name="plan-why-week"),
    path("plans/<int:plan_id>/targets/<int:item_id>/why/", views.why_target, name="plan-why"),
    path("plans/<int:plan_id>/approve/", views.approve_plan, name="plan-approve"),
    path("plans/<int:plan_id>/take-back/", views.withdraw_plan, name="plan-take-back"),
    path("plans/<int:plan_id>/targets/<int:item_id>/", views.edit_target, name="plan-target"),
    path("plans/<int:plan_id>/sessions/<int:ordinal>/pin/", views.pin_session, name="plan-pin"),
    path("riders/<int:rider_id>/", views.rider, name="rider"),
    path("riders/<int:rider_id>/pause/", views.pause_rider, name="rider-pause"),
    path("riders/<int:rider_id>/resume/", views.resume_rider, name="rider-resume"),
    path(
        "riders/<int:rider_id>/week/<int:year>/<int:number>/work-out/",
        views.work_out_again,
        name="rider-work-out",
    ),
    path("follow-ups/", views.follow_ups, name="follow-ups"),
    path("follow-ups/<int:follow_up_id>/", views.follow_up, name="follow-up"),
    path("follow-ups/<int:follow_up_id>/note/", views.note_follow_up, name="follow-up-note"),
    path("follow-ups/<int:follow_up_id>/put-off/", views.put_off_follow_up, name="follow-up-put-off"),
    path("follow-ups/<int:follow_up_id>/hand-over/", views.hand_over_follow_up, name="follow-up-hand-over"),
    path("follow-ups/<int:follow_up_id>/close/", views.close_follow_up, name="follow-up-close"),
    path("follow-ups/<int:follow_up_id>/open/", views.open_follow_up_again, name="follow-up-open"),
    path(
        "follow-ups/<int:follow_up_id>/reports/<int:report_id>/clear/",
        views.clear_report,
        name="follow-up-clear-report",
    ),
    path(
        "follow-ups/<int:follow_up_id>/screenings/<int:screening_id>/clear/",
        views.clear_screening,
        name="follow-up-clear-screening",
    ),
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("healthz", views.healthz, name="healthz"),
    path("caught-mail/", views.caught_mail, name="mailbox"),
    path("caught-mail/<str:name>/", views.caught_message, name="caught-message"),
    path("caught-mail/<str:name>/<int:part>/", views.caught_part, name="caught-part"),
    path("", include("athletes.urls")),
    path("", include("programs.urls")),
]
