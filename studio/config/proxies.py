"""Whose word is believed about where a request came from?

A client may write anything into `X-Forwarded-For` and `X-Forwarded-Proto`. They count only when
the connection itself comes from a proxy that the school has named (`BENCHLEDGER_PROXIES`), and
are taken out of every other request, so that nothing behind this door can believe them.

The web server's own wrapper for this leaves those lines in, does not tell an address from its
port, and passes over the scheme where several proxies in a row each wrote one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from ipaddress import (
    IPv4Address,
    IPv4Network,
    IPv6Address,
    IPv6Network,
    ip_address,
    ip_network,
)
from typing import Any

Network = IPv4Network | IPv6Network
Address = IPv4Address | IPv6Address
Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]

_SAID_BY_PROXIES = (
    "HTTP_FORWARDED",
    "HTTP_X_FORWARDED_HOST",
    "HTTP_X_FORWARDED_PORT",
    "HTTP_X_FORWARDED_SSL",
    "HTTP_X_REAL_IP",
)
_MOST_HOPS = 20


def networks(words: Sequence[str]) -> tuple[Network, ...]:
    """Addresses and networks such as "127.0.0.1" or "10.2.0.0/28".

    A network must hold proxies alone: a client inside it could choose its own address.

    Raises ValueError with the word that is neither.
    """
    found = []
    for word in words:
        try:
            found.append(ip_network(word, strict=False))
        except ValueError as wrong:
            raise ValueError(f"“{word}” is no address and no network of proxies") from wrong
    return tuple(found)


def trusting(application: Application, proxies: tuple[Network, ...]) -> Application:
    """The WSGI application, told the client's own address and scheme by these proxies alone."""

    def door(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        chain = environ.pop("HTTP_X_FORWARDED_FOR", "")
        schemes = environ.pop("HTTP_X_FORWARDED_PROTO", "")
        for name in _SAID_BY_PROXIES:
            environ.pop(name, None)
        peer = _address(environ.get("REMOTE_ADDR", ""))
        if peer is not None:
            environ["REMOTE_ADDR"] = str(peer)
            if _is_one_of(peer, proxies):
                client, hops = _client(peer, chain, proxies)
                environ["REMOTE_ADDR"] = str(client)
                scheme = _scheme(schemes, hops)
                if scheme:
                    environ["wsgi.url_scheme"] = scheme
        return application(environ, start_response)

    return door


def client_address(peer: str, chain: str, proxies: tuple[Network, ...]) -> str:
    """Whose request it is, by the connection and `X-Forwarded-For`; "" where nobody can tell."""
    address = _address(peer)
    if address is None:
        return ""
    return str(_client(address, chain, proxies)[0] if _is_one_of(address, proxies) else address)


def _client(peer: Address, chain: str, proxies: tuple[Network, ...]) -> tuple[Address, int]:
    """The first address from the right that is no proxy of ours, and how many proxies there
    were. What stands left of it was written by the client, and is not looked at."""
    found, hops = peer, 1
    for word in reversed(chain.split(",")[-_MOST_HOPS:]):
        address = _address(word.strip())
        if address is None:
            break
        found = address
        if not _is_one_of(address, proxies):
            break
        hops += 1
    return found, hops


def _scheme(said: str, hops: int) -> str:
    """How the client came to the outermost of our proxies; "" where none says so."""
    words = [word.strip().lower() for word in said.split(",")]
    word = words[max(0, len(words) - hops)]
    return word if word in ("http", "https") else ""


def _is_one_of(address: Address, proxies: tuple[Network, ...]) -> bool:
    return any(address in network for network in proxies)


def _address(word: str) -> Address | None:
    """Also of "[2001:db8::1]:443" and "192.0.2.1:5060", as some proxies write."""
    if word.startswith("["):
        word = word[1:].partition("]")[0]
    elif word.count(":") == 1:
        word = word.partition(":")[0]
    try:
        address = ip_address(word.partition("%")[0])
    except ValueError:
        return None
    mapped = address.ipv4_mapped if isinstance(address, IPv6Address) else None
    return mapped or address
