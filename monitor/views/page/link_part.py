"""Where the signed link of a message lands: the alarm, what to do, and one tap to acknowledge it.

Programs that scan messages open links too, so looking spends nothing; only the tap does.
"""

from __future__ import annotations

import json
from collections.abc import Callable

from starlette.responses import Response

from monitor.errors import UsageError
from monitor.notify.links import LIFETIME_MS, Claim, new_nonce, redeem, sign, verify
from monitor.notify.policy import LinkFor
from monitor.records import AlarmState, AlarmStatus, Command, CommandKind
from monitor.store import Store
from monitor.views.page.alarm_view import card
from monitor.views.page.asking import hand_over
from monitor.views.page.serving import Access, Asked, Page, problem
from monitor.views.view_records import ActiveAlarm

LINK_PATH = "/a/"
_SPENT = "spent_links"


def link_maker(
    key: bytes, public_address: str, since_ms: Callable[[str], int | None], clock: Callable[[], int]
) -> LinkFor:
    """Makes the links of messages: `since_ms(alarm_id)` says which occurrence of the alarm is meant."""

    def link_for(recipient: str, alarm_id: str) -> str:
        since = since_ms(alarm_id)
        if since is None:
            return ""
        claim = Claim(alarm_id, recipient, since, clock() + LIFETIME_MS, new_nonce())
        return f"{public_address.rstrip('/')}{LINK_PATH}{sign(claim, key)}"

    return link_for


def link_key(asked: Asked) -> bytes:
    """The key that the service signs links with."""
    return asked.farm.context.link_key


def show_link(asked: Asked) -> Response:
    """The alarm of a link that is valid."""
    try:
        claim = verify(asked.request.path_params["token"], link_key(asked), asked.now_ms)
    except UsageError:
        return problem(asked, 404, "link.not_valid")
    return _page(asked, claim, "")


def _page(asked: Asked, claim: Claim, said: str) -> Response:
    rule = asked.plan.rules.get(claim.alarm_id)
    if rule is None:
        return problem(asked, 404, "link.no_alarm")
    state = asked.store.journal.states().get(claim.alarm_id) or AlarmState(claim.alarm_id)
    alarm = ActiveAlarm(rule, state, asked.plan.title(rule.place))
    return asked.render(
        "link.html",
        alarm=card(alarm, asked.plan, asked.words, {}),
        normal=state.status is AlarmStatus.NORMAL,
        open=_is_meant(state, claim) and not said,
        token=asked.request.path_params["token"],
        said=said,
    )


def _is_meant(state: AlarmState, claim: Claim) -> bool:
    return not state.acknowledged and state.since_ms == claim.since_ms


def acknowledge_by_link(asked: Asked) -> Response:
    """Spend the link and acknowledge what it was about; a newer occurrence stays as it is."""
    context = asked.farm.context
    try:
        with context.writing() as store:
            claim = redeem(
                asked.request.path_params["token"],
                link_key(asked),
                asked.now_ms,
                lambda nonce, expires_ms: spend(store, nonce, expires_ms, asked.now_ms),
            )
    except UsageError:
        return problem(asked, 410, "link.not_valid")
    state = asked.store.journal.states().get(claim.alarm_id)
    if state is None or not _is_meant(state, claim):
        return _page(asked, claim, asked.words.t("link.nothing_to_do"))
    command = Command(CommandKind.ACKNOWLEDGE, asked.now_ms, claim.recipient, claim.alarm_id)
    outcome = asked.store.commands.outcome(hand_over(asked, command))
    return _page(asked, claim, asked.words.t("asked.done" if outcome == "done" else "asked.waiting"))


def spend(store: Store, nonce: str, expires_ms: int, now_ms: int) -> bool:
    """True the first time that a number is used; numbers of expired links are forgotten."""
    with store.database.write():
        spent = json.loads(store.meta.get(_SPENT) or "{}")
        if nonce in spent:
            return False
        kept = {known: end for known, end in spent.items() if end > now_ms}
        store.meta.put(_SPENT, json.dumps(kept | {nonce: expires_ms}))
        return True


LINK_PAGE = Page(
    LINK_PATH + "{token}",
    get=show_link,
    post=acknowledge_by_link,
    access=Access.OPEN,
    post_access=Access.OPEN,
    proves_itself=True,
)
