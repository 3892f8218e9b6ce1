from django.urls import path

from decor.studio import more_views as more
from decor.studio import views

app_name = "studio"
urlpatterns = [
    path("sign-in/", views.login_view, name="login"),
    path("sign-out/", views.logout_view, name="logout"),
    path("first-run/", views.first_run, name="first-run"),
    path("livez", views.livez, name="livez"),
    path("readyz", views.readyz, name="readyz"),
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
    path("more/audit/", more.audit, name="audit"),
]
