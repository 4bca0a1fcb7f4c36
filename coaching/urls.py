"""Every address of the project."""

from django.urls import include, path

from coaching import views

urlpatterns = [
    path("", views.desk, name="desk"),
    path("week/<int:year>/<int:number>/", views.desk, name="desk-week"),
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("healthz", views.healthz, name="healthz"),
    path("caught-mail/", views.caught_mail, name="mailbox"),
    path("caught-mail/<str:name>/", views.caught_message, name="caught-message"),
    path("caught-mail/<str:name>/<int:part>/", views.caught_part, name="caught-part"),
    path("", include("athletes.urls")),
    path("", include("programs.urls")),
]
