"""Addresses of the weekly loop: programs, plans, and what riders open by link."""

from django.urls import path

from programs.views import builder, exercises, levels, library, own_exercises, preview, rehearsal, riders

urlpatterns = [
    # what riders open by link
    path("r/<int:link_id>/session/", riders.session, name="link-session"),
    path("r/<int:link_id>/session/<int:key_id>/", riders.session, name="link-session"),
    path("r/<int:link_id>/session/answer/", riders.answer, name="link-answer"),
    path("r/<int:link_id>/session/<int:key_id>/answer/", riders.answer, name="link-answer"),
    path("r/<int:link_id>/report/", riders.report, name="link-report"),
    path("r/<int:link_id>/report/<uuid:form_key>/", riders.report_answer, name="link-report-answer"),
    path("r/<int:link_id>/page/", riders.page, name="link-page"),
    path("r/<int:link_id>/stop-mail/", riders.stop_mail, name="link-stop-mail"),
    path("stop/<str:token>/", riders.stop_mail_by_token, name="stop-mail"),
    # the program builder
    path("programs/", builder.programs, name="programs"),
    path("programs/new/", builder.program_new, name="program-new"),
    path("programs/undo/", builder.program_undo, name="program-undo"),
    path("programs/<int:program_id>/", builder.program, name="program"),
    path("programs/<int:program_id>/edit/", builder.program_edit, name="program-edit"),
    path("programs/<int:program_id>/use/", builder.program_use, name="program-use"),
    path("programs/<int:program_id>/remove/", builder.program_remove, name="program-remove"),
    path("programs/<int:program_id>/preview/", preview.program_preview, name="program-preview"),
    path("programs/<int:program_id>/season/", rehearsal.program_season, name="program-season"),
    path("programs/<int:program_id>/blocks/new/", builder.block_new, name="block-new"),
    path("programs/blocks/<int:block_id>/", builder.block_edit, name="block-edit"),
    path("programs/blocks/<int:block_id>/move/", builder.block_move, name="block-move"),
    path("programs/blocks/<int:block_id>/remove/", builder.block_remove, name="block-remove"),
    path("programs/blocks/<int:block_id>/sessions/new/", builder.template_new, name="template-new"),
    path("programs/sessions/<int:template_id>/", builder.template_edit, name="template-edit"),
    path("programs/sessions/<int:template_id>/move/", builder.template_move, name="template-move"),
    path("programs/sessions/<int:template_id>/remove/", builder.template_remove, name="template-remove"),
    path("programs/sessions/<int:template_id>/slots/new/", builder.slot_new, name="slot-new"),
    path("programs/slots/<int:slot_id>/", builder.slot_edit, name="slot-edit"),
    path("programs/slots/<int:slot_id>/move/", builder.slot_move, name="slot-move"),
    path("programs/slots/<int:slot_id>/remove/", builder.slot_remove, name="slot-remove"),
    path("riders/<int:rider_id>/movement-check/", levels.movement_check, name="movement-check"),
    # the exercise library
    path("exercises/", exercises.exercises, name="exercises"),
    path("exercises/handbook/", library.handbook, name="handbook"),
    path("exercises/handbook/progress/", library.handbook_progress, name="handbook-progress"),
    path("exercises/handbook/file/", library.handbook_file, name="handbook-file"),
    path("exercises/library/", own_exercises.library, name="library"),
    path("exercises/library/new/", own_exercises.library_new, name="library-new"),
    path("exercises/library/file/", own_exercises.library_file, name="library-file"),
    path("exercises/library/import/", own_exercises.library_import, name="library-import"),
    path("exercises/library/schema/", own_exercises.library_schema, name="library-schema"),
    path("exercises/<slug:slug>/", exercises.exercise, name="exercise"),
    path("exercises/<slug:slug>/edit/", own_exercises.exercise_edit, name="exercise-edit"),
    path("exercises/<slug:slug>/figure/", own_exercises.exercise_figure, name="exercise-figure"),
    path("exercises/<slug:slug>/retire/", own_exercises.exercise_retire, name="exercise-retire"),
    path("exercises/<slug:slug>/restore/", own_exercises.exercise_restore, name="exercise-restore"),
    path("exercises/<slug:slug>/shipped/", own_exercises.exercise_shipped, name="exercise-shipped"),
    path("exercises/<slug:slug>/sheet/", exercises.exercise_sheet, name="exercise-sheet"),
]
