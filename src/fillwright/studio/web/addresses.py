"""The network address of a visitor, behind proxies that the owner trusts, and behind no others."""

from __future__ import annotations

from collections.abc import Iterable
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network

from starlette.requests import Request

from fillwright.errors import StoreError

Network = IPv4Network | IPv6Network

_MOST_HOPS = 10
"""Addresses of a forwarded request that are read, from the nearest on. Ours."""

_HOME_BITS = 64
"""Bits of an IPv6 address that name a network; the owner of one chooses the others (RFC 4291, 2.5.4)."""


def parse_proxy(text: str) -> Network:
    """Read the address of a trusted proxy, or a network of them.

    Raises:
        StoreError: if it is not an address.
    """
    try:
        return ip_network(text.strip())
    except ValueError as error:
        raise StoreError(
            f'--trusted-proxy: "{text}" is not an address; write one such as 10.0.0.2 or 10.0.0.0/24.'
        ) from error


def find_address(request: Request, proxies: Iterable[Network]) -> str:
    """Return the address of a visitor, "" if it is unknown.

    `X-Forwarded-For` is read from its end, and only as far as trusted proxies wrote it: everybody else can
    write anything into it.
    """
    trusted = tuple(proxies)
    nearest = _parse_address(request.client.host if request.client else "")
    if nearest is None:
        return ""
    hops = ",".join(request.headers.getlist("x-forwarded-for")).split(",")
    for hop in hops[: -_MOST_HOPS - 1 : -1]:
        if not any(nearest in network for network in trusted):
            break
        address = _parse_address(hop.strip())
        if address is None:
            break
        nearest = address
    return str(nearest)


def find_network(address: str) -> str:
    """Return what an address is counted as: itself, or the network of an IPv6 address.

    >>> [find_network(address) for address in ("192.0.2.7", "2001:db8:1:2:3:4:5:6", "::ffff:192.0.2.7", "")]
    ['192.0.2.7', '2001:db8:1:2::/64', '192.0.2.7', '']
    """
    parsed = _parse_address(address)
    if isinstance(parsed, IPv6Address):
        return str(ip_network((parsed.packed, _HOME_BITS), strict=False))
    return str(parsed or "")


def _parse_address(text: str) -> IPv4Address | IPv6Address | None:
    """Return an address; an IPv4 address that is written as IPv6 as IPv4; None if it is not valid."""
    try:
        address = ip_address(text)
    except ValueError:
        return None
    return getattr(address, "ipv4_mapped", None) or address
