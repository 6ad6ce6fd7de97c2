"""Signing in by user name and passphrase, and making passphrases that can be said aloud."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.backends import BaseBackend
from django.http import HttpRequest

from .models import User


class PassphraseBackend(BaseBackend):
    """Checks a passphrase; takes as long for an unknown name as for a known one."""

    def authenticate(
        self,
        request: HttpRequest | None,
        username: str | None = None,
        password: str | None = None,
        **kwargs: Any,
    ) -> User | None:
        if not username or not password or len(password) > 200:
            return None
        try:
            user = User.objects.get_by_natural_key(username.strip())
        except User.DoesNotExist:
            User().set_password(password)  # the same work, so that names cannot be found by time
            return None
        return user if user.check_password(password) and user.is_active else None

    def get_user(self, user_id: int) -> User | None:
        return User.objects.select_related("school").filter(pk=user_id, is_active=True).first()
