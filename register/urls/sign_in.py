"""Sign-in, second factor, and the page the day starts with."""

from allauth.account import views as account
from django.conf import settings
from django.urls import URLPattern, URLResolver, include, path

from register.views.sign_in import SignIn, change_device, home, no_sign_up

urlpatterns: list[URLPattern | URLResolver] = [
    path("", home, name="home"),
    path("account/sign-in/", SignIn.as_view(), name="account_login"),
    path("account/sign-out/", account.logout, name="account_logout"),
    path("account/inactive/", account.account_inactive, name="account_inactive"),
    path("account/confirm/", account.reauthenticate, name="account_reauthenticate"),
    path("account/password/", account.password_change, name="account_change_password"),
    path("account/none/", no_sign_up, name="account_signup"),
    path("account/none/", no_sign_up, name="account_reset_password"),
    path("account/none/", no_sign_up, name="account_set_password"),
    path("account/none/", no_sign_up, name="account_email"),
    path("account/second-factor/totp/deactivate/", change_device, name="mfa_deactivate_totp"),
    path("account/second-factor/", include("allauth.mfa.urls")),
]
if settings.SINGLE_SIGN_ON:
    urlpatterns += [
        path("account/", include("allauth.socialaccount.providers.openid_connect.urls"))
    ]
