"""Tables without history, each with its reason. A test keeps this list complete."""

# These exist only where single sign-on is switched on.
SINGLE_SIGN_ON = {
    "socialaccount_socialaccount": "never written: people are matched anew at each sign-in",
    "socialaccount_socialapp": "never written: the provider stands in the settings",
    "socialaccount_socialtoken": "never written: no token is kept",
}
EXEMPT = SINGLE_SIGN_ON | {
    "django_migrations": "the owner's own record of migrations; the application cannot write it",
    "django_content_type": "made from the code after each migration; not written by people",
    "auth_permission": "made from the code after each migration; not written by people",
    "auth_group": "unused: what a person may do follows from the role in the user's record",
    "auth_group_permissions": "unused, as auth_group",
    "django_session": "sign-in sessions: short-lived, and the row itself is a secret",
    "account_emailconfirmation": "one-time links: short-lived, and the row itself is a secret",
    "axes_accessattempt": "failed sign-ins: a log of its own",
    "axes_accessattemptexpiration": "goes with its failed sign-in",
    "axes_accessfailurelog": "failed sign-ins: a log of its own",
    "axes_accesslog": "sign-ins: a log of its own",
    "register_accesslog": "who looked at what: only ever added to, a log of its own",
    "register_formreceipt": "one-time tokens of forms: only ever added to, tells nothing else",
    "register_sharedcache": "counters of tries and used codes: they run out within minutes",
    "register_draft": "unfinished typing, for its author only; history begins when it is saved",
}
