"""Whose address is it? What one client does is counted together, wherever it is counted."""

from __future__ import annotations

import ipaddress


def client_key(address: str) -> str:
    """The address that one client's deeds share: in IPv6 a whole /64 is one household."""
    try:
        found = ipaddress.ip_address(address.split("%")[0])
    except ValueError:
        return "unknown"
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped is not None:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network((int(found), 64), strict=False))
    return str(found)
