"""From the settings to the channels outside that `reprocess serve` hands reminders to."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

from reprocess.reminders import mail, webhook
from reprocess.reminders.channels import outside
from reprocess.reminders.posting import Hand
from reprocess.reminders.rounds import Outside, nobody_outside
from reprocess.reminders.signing import secret_from
from reprocess.settings import EmailSettings, Settings, WebhookSettings, secret_in


def hands(settings: Settings) -> Mapping[str, Hand]:
    """Returns the channels outside by name; none where the settings name none.

    Raises:
        WrongUseError: a secret cannot be read, or an address is not one that may be used.
    """
    found: dict[str, Hand] = {}
    if settings.email is not None:
        found["email"] = partial(mail.hand, _mail_route(settings.email))
    if settings.webhook is not None:
        found["webhook"] = partial(webhook.hand, _webhook_route(settings.webhook))
    return found


def kept_for(settings: Settings) -> Outside:
    """Returns what a sweep keeps for the channels outside."""
    if settings.email is None and settings.webhook is None:
        return nobody_outside
    mailed = settings.email.to if settings.email is not None else {}
    return outside(mailed, webhook=settings.webhook is not None)


def _mail_route(email: EmailSettings) -> mail.MailRoute:
    password = secret_in(email.password_file) if email.password_file is not None else None
    return mail.MailRoute(email.host, email.port, email.sender, email.to, email.security, email.user, password)


def _webhook_route(hook: WebhookSettings) -> webhook.WebhookRoute:
    secrets = tuple(secret_from(secret_in(path)) for path in hook.secret_files)
    route = webhook.WebhookRoute(hook.url, secrets, frozenset(hook.hosts), frozenset(hook.private))
    route.parts()
    return route
