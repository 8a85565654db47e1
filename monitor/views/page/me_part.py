"""How a person wants the page, and who else may use it."""

from __future__ import annotations

from starlette.responses import RedirectResponse, Response

from monitor.errors import UsageError
from monitor.views.page.catalogue import LANGUAGES
from monitor.views.page.passwords import LONGEST_PASSWORD, SHORTEST_PASSWORD, hash_password
from monitor.views.page.serving import WISHES_COOKIE, WISHES_S, Access, Asked, Page, Part


def show_me(asked: Asked) -> Response:
    """The choices."""
    context = asked.farm.context
    return asked.render(
        "me.html", helpers=context.helper_password is not None, shortest=SHORTEST_PASSWORD, said=""
    )


def keep_wishes(asked: Asked) -> Response:
    """Language and unit, kept in the browser."""
    language = asked.field("language")
    if language not in LANGUAGES:
        raise UsageError(asked.words.t("me.language_wrong"))
    unit = "f" if asked.field("unit") == "f" else "c"
    response = RedirectResponse("/me", 303)
    response.set_cookie(
        WISHES_COOKIE,
        f"{language}-{unit}",
        max_age=WISHES_S,
        httponly=True,
        samesite="lax",
        secure=asked.request.url.scheme == "https",
    )
    return response


def change_helpers(asked: Asked) -> Response:
    """A new password for helpers; an empty one shuts them out."""
    password = asked.form.get("password", "")
    if password and not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise UsageError(asked.words.t("me.password_short", least=SHORTEST_PASSWORD))
    asked.farm.context.change_helper_password(hash_password(password) if password else None)
    return RedirectResponse("/me", 303)


ME = Part(
    "me",
    "/me",
    (
        Page("/me", get=show_me),
        Page("/me/wishes", post=keep_wishes),
        Page("/me/helpers", post=change_helpers, post_access=Access.OWNER),
    ),
    main=False,
)
