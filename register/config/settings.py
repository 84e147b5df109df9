"""Settings. Everything that differs between sites comes from the environment.

`REGISTER_MODE` is `demo` (the default), `test` or `live`. A site that forgets to set
it gets the demo, which answers on this machine only and refuses real NHS Numbers.
"""

from pathlib import Path

from register.config import environment
from register.config.logs import LOGGING as LOGGING
from register.config.single_sign_on import APPS as SINGLE_SIGN_ON_APPS
from register.config.single_sign_on import single_sign_on
from register.database.addresses import addresses
from register.database.state import generated_secrets, private_folder, state_folder

BASE_DIR = Path(__file__).resolve().parents[2]
REGISTER_MODE = environment.one_of("REGISTER_MODE", ("demo", "test", "live"), "demo")
REGISTER_DEMO = REGISTER_MODE != "live"

DEBUG = False
if REGISTER_DEMO:
    SECRET_KEY = generated_secrets(state_folder())["secret_key"]
    ALLOWED_HOSTS = environment.items("REGISTER_HOSTS", ("127.0.0.1", "localhost", "[::1]"))
else:
    SECRET_KEY = environment.text("REGISTER_SECRET_KEY")
    ALLOWED_HOSTS = environment.text("REGISTER_HOSTS").split(",")

INSTALLED_APPS = [
    "register",
    "planning",
    "reports",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django.contrib.postgres",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "axes",
    "crispy_forms",
    "csp",
    "django_filters",
    "django_htmx",
]

SINGLE_SIGN_ON = single_sign_on()
if SINGLE_SIGN_ON:
    INSTALLED_APPS += SINGLE_SIGN_ON_APPS
    SOCIALACCOUNT_PROVIDERS = SINGLE_SIGN_ON.as_allauth()
    SOCIALACCOUNT_ADAPTER = "register.directory.DirectoryAdapter"

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "register.middleware.never_keep",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "register.middleware.refuse_unstorable_text",
    "register.middleware.no_page_in_a_fragment",
    "register.middleware.end_long_sessions",
    "register.middleware.require_second_factor",
    "register.history.middleware.SignInActor",
    "allauth.account.middleware.AccountMiddleware",
    "axes.middleware.AxesMiddleware",
    "register.entry.guard.EntryGuard",  # last: it calls the view
]

ROOT_URLCONF = "register.config.urls"
WSGI_APPLICATION = "register.config.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "register.context.navigation",
                "register.entry.context.unfinished",
                "reports.first_steps.first_steps",
            ],
            # Our own csrf_token: each form also says whose page it is on.
            "builtins": ["register.templatetags.entry"],
        },
    },
]
CRISPY_ALLOWED_TEMPLATE_PACKS = "register_form"
CRISPY_TEMPLATE_PACK = "register_form"
CRISPY_FAIL_SILENTLY = False

# Database: `default` is the application role, `owner` runs the migrations.
_ADDRESSES = addresses()
_CONNECTION = {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
DATABASES = {
    "default": _ADDRESSES.application.as_django() | _CONNECTION | {"TEST": {"MIRROR": "owner"}},
    "owner": _ADDRESSES.owner.as_django(),
}

# Counters of tries and used codes count for every server process, so they are shared.
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": "register_sharedcache",
    }
}

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "Europe/London"
USE_TZ = True
USE_I18N = True
# A typed 7,5 must never be read as 75.
USE_THOUSAND_SEPARATOR = False

STATIC_URL = "/static/"
STATIC_ROOT = private_folder("static")
STATIC_ROOT.mkdir(parents=True, exist_ok=True)  # the file server complains of a missing folder
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "register.config.assets.InstalledFiles",
]
# The demo serves files where they are installed; a live site collects them once,
# with a digest in each name.
WHITENOISE_USE_FINDERS = REGISTER_DEMO
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if REGISTER_DEMO
        else "register.config.assets.CollectedFiles"
    },
}
MEDIA_ROOT = private_folder("files")
# The pictures of examinations as they were sent; see register/images/store.py.
IMAGE_ROOT = private_folder("images")
# A folder of slices comes as hundreds of files: they wait on disk, not in memory.
FILE_UPLOAD_HANDLERS = ["django.core.files.uploadhandler.TemporaryFileUploadHandler"]
FILE_UPLOAD_TEMP_DIR = private_folder("coming")
DATA_UPLOAD_MAX_NUMBER_FILES = 800
# Where the history is anchored outside the database; best on another machine's disk.
ANCHOR_FILE = environment.text(
    "REGISTER_ANCHOR_FILE", str(private_folder("anchors") / "history.txt")
)

# ---------------------------------------------------------------------------
# Sign-in, sessions, cookies, content security policy and headers
# ---------------------------------------------------------------------------
AUTH_USER_MODEL = "register.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "allauth.account.auth_backends.AuthenticationBackend",
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
ACCOUNT_ADAPTER = "register.adapters.ClosedAccountAdapter"
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_FORMS = {
    "login": "register.forms.sign_in.SignInForm",
    "change_password": "register.forms.sign_in.OwnPassphraseForm",
    "reauthenticate": "register.forms.sign_in.PassphraseAgainForm",
}
# Wrong passphrases are counted below, for name and address together: the library's own
# limits by address alone, or by name alone, would lock colleagues out. What is left of
# them here counts wrong codes of the second factor, for each person.
ACCOUNT_RATE_LIMITS = {"login": None, "login_failed": "5/5m/key"}
MFA_ADAPTER = "register.adapters.SecondFactorAdapter"
MFA_FORMS = {
    "authenticate": "register.forms.sign_in.CodeForm",
    "reauthenticate": "register.forms.sign_in.CodeAgainForm",
    "activate_totp": "register.forms.sign_in.FirstCodeForm",
}
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes"]
MFA_TOTP_ISSUER = "Vertebral fracture register"
# A code holds for its own half minute only: the library forgets a used one after that long.
MFA_TOTP_TOLERANCE = 0
SECOND_FACTOR_REQUIRED = not REGISTER_DEMO
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "register.passphrases.LongEnough",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "register.passphrases.NotCommon"},
    {"NAME": "register.passphrases.NotTheName"},
]
# Failed tries are counted in the database for name and address together, so that one
# person's mistakes never lock out a colleague behind the same hospital address.
AXES_HANDLER = "axes.handlers.database.AxesDatabaseHandler"
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 1  # hour
AXES_RESET_ON_SUCCESS = True
AXES_USERNAME_CALLABLE = "register.views.sign_in.typed_username"
AXES_LOCKOUT_CALLABLE = "register.views.sign_in.locked_out"
AXES_CLIENT_IP_CALLABLE = "register.middleware.client_address"
# A header that the proxy in front writes itself, for example X-Real-IP; blank: none.
ADDRESS_HEADER = environment.text("REGISTER_ADDRESS_HEADER", "")
AXES_VERBOSE = False
# Signed out after half an hour without a request, when the browser closes, and in any
# case after twelve hours: a shift. Both are common practice, without a source.
SESSION_COOKIE_AGE = 30 * 60
SESSION_LONGEST = 12 * 3600
SESSION_SAVE_EVERY_REQUEST = True
SESSION_EXPIRE_AT_BROWSER_CLOSE = True
# Unfinished typing that nobody touches for so long is cleared by `clear_drafts`.
DRAFT_DAYS = environment.number("REGISTER_DRAFT_DAYS", 14)
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
# Messages name patients: they stay on the server, never in a cookie.
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "register.entry.guard.csrf_failed"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if not REGISTER_DEMO:
    SESSION_COOKIE_NAME = "__Host-session"
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_NAME = "__Host-csrf"
    CSRF_COOKIE_SECURE = True
    SECURE_SSL_REDIRECT = True
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_HSTS_SECONDS = 365 * 24 * 3600
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:", "blob:"],
        "connect-src": ["'self'"],
        "font-src": ["'self'"],
        "base-uri": ["'none'"],
        # A form's answer may lead on to the hospital's sign-in, and nowhere else.
        "form-action": ["'self'", *([SINGLE_SIGN_ON.origin] if SINGLE_SIGN_ON else [])],
        "frame-ancestors": ["'none'"],
    }
}
# ---------------------------------------------------------------------------
