from django.urls import path

from decor.studio import command_views, mail_views, views
from decor.studio import more_views as more

app_name = "studio"
urlpatterns = [
    path("sign-in/", views.login_view, name="login"),
    path("sign-out/", views.logout_view, name="logout"),
    path("first-run/", views.first_run, name="first-run"),
    path("livez", views.livez, name="livez"),
    path("readyz", views.readyz, name="readyz"),
    path("sw.js", command_views.service_worker, name="service-worker"),
    path("commands/", command_views.commands, name="commands"),
    path("more/", more.more, name="more"),
    path("more/theme/", more.theme, name="theme"),
    path("more/password/", more.password, name="password"),
    path("more/sign-ins/", more.sign_ins, name="sign-ins"),
    path("more/sign-ins/<int:sign_in>/end/", more.sign_in_end, name="sign-in-end"),
    path("more/studio/", more.settings_view, name="settings"),
    path("more/rates/", more.rates_view, name="rates"),
    path("more/people/", more.people, name="people"),
    path("more/people/new/", more.person_new, name="person-new"),
    path("more/people/<int:user>/", more.person, name="person"),
    path("more/people/<int:user>/sign-out/", more.person_sign_out, name="person-sign-out"),
    path("more/failed-jobs/", more.failed_jobs, name="failed-jobs"),
    path("more/failed-jobs/<int:job>/retry/", more.failed_job_retry, name="failed-job-retry"),
    path("more/failed-jobs/<int:job>/dismiss/", more.failed_job_dismiss, name="failed-job-dismiss"),
    path("more/mail/", mail_views.mail, name="mail"),
    path("more/mail/test/", mail_views.mail_test, name="mail-test"),
    path("more/audit/", more.audit, name="audit"),
]
