"""Who is believed about a client's address and scheme: nobody but the named proxies.

`X-Forwarded-For` grows to the right as in RFC 7239, section 7.4 (the older header's convention is
described there too), so only its right end was written by somebody we know.
"""

from __future__ import annotations

from typing import Any

import pytest

from studio.config.proxies import networks, trusting


def seen(proxies: list[str], **environ: str) -> tuple[str, str, dict[str, Any]]:
    """Address and scheme that the application sees, and all of its environment."""
    found: dict[str, Any] = {}

    def application(environ: dict[str, Any], start: Any) -> list[bytes]:
        found.update(environ)
        return []

    asked = {"wsgi.url_scheme": "http", "REMOTE_ADDR": "127.0.0.1", **environ}
    trusting(application, networks(proxies))(asked, None)  # type: ignore[arg-type]
    return found["REMOTE_ADDR"], found["wsgi.url_scheme"], found


def test_a_named_proxy_is_believed() -> None:
    address, scheme, _ = seen(
        ["127.0.0.1"], HTTP_X_FORWARDED_FOR="203.0.113.7", HTTP_X_FORWARDED_PROTO="https"
    )
    assert (address, scheme) == ("203.0.113.7", "https")


def test_nobody_is_believed_by_default() -> None:
    address, scheme, rest = seen(
        [],
        HTTP_X_FORWARDED_FOR="203.0.113.7",
        HTTP_X_FORWARDED_PROTO="https",
        HTTP_X_FORWARDED_HOST="elsewhere.example.org",
    )
    assert (address, scheme) == ("127.0.0.1", "http")
    assert not [name for name in rest if "FORWARDED" in name]


def test_a_client_that_is_no_proxy_is_not_believed() -> None:
    address, scheme, _ = seen(
        ["127.0.0.1"],
        REMOTE_ADDR="198.51.100.9",
        HTTP_X_FORWARDED_FOR="203.0.113.7",
        HTTP_X_FORWARDED_PROTO="https",
    )
    assert (address, scheme) == ("198.51.100.9", "http")


def test_what_the_client_wrote_itself_is_not_looked_at() -> None:
    address, _, _ = seen(["127.0.0.1"], HTTP_X_FORWARDED_FOR="10.0.0.1, 192.0.2.55, 203.0.113.7")
    assert address == "203.0.113.7"


def test_two_proxies_in_a_row_are_followed_to_the_client() -> None:
    address, scheme, _ = seen(
        ["127.0.0.1", "10.2.0.0/16"],
        HTTP_X_FORWARDED_FOR="192.0.2.55, 203.0.113.7, 10.2.0.4",
        HTTP_X_FORWARDED_PROTO="https, http",
    )
    assert (address, scheme) == ("203.0.113.7", "https")


@pytest.mark.parametrize("garbage", ["", "unknown", "203.0.113.999", ",,,", "a" * 4000])
def test_garbage_from_a_proxy_leaves_the_proxys_own_address(garbage: str) -> None:
    address, scheme, _ = seen(
        ["127.0.0.1"], HTTP_X_FORWARDED_FOR=garbage, HTTP_X_FORWARDED_PROTO="gopher"
    )
    assert (address, scheme) == ("127.0.0.1", "http")


@pytest.mark.parametrize(
    ("written", "address"),
    [
        ("[2001:db8::7]:443", "2001:db8::7"),
        ("2001:db8::7", "2001:db8::7"),
        ("203.0.113.7:5060", "203.0.113.7"),
        ("::ffff:203.0.113.7", "203.0.113.7"),
    ],
)
def test_addresses_are_read_as_proxies_write_them(written: str, address: str) -> None:
    assert seen(["127.0.0.1"], HTTP_X_FORWARDED_FOR=written)[0] == address


def test_an_address_of_the_older_kind_within_a_newer_one_is_the_same_proxy() -> None:
    address, _, _ = seen(
        ["127.0.0.1"], REMOTE_ADDR="::ffff:127.0.0.1", HTTP_X_FORWARDED_FOR="203.0.113.7"
    )
    assert address == "203.0.113.7"


def test_a_word_that_is_no_address_is_named() -> None:
    with pytest.raises(ValueError, match=r"proxy\.example\.org"):
        networks(["127.0.0.1", "proxy.example.org"])
