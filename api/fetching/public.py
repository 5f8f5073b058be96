"""Which IP addresses are the open network's: everything else is refused, however it is written.

References
----------
M. Cotton, L. Vegoda, R. Bonica, B. Haberman, "Special-Purpose IP Address Registries", RFC 6890, 2013.
"""

from __future__ import annotations

from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network

NOT_PUBLIC = [ip_network(one) for one in (
    "0.0.0.0/8",        # this host (RFC 1122)
    "10.0.0.0/8",       # private (RFC 1918), as the next but four and five
    "100.64.0.0/10",    # shared by customers of a provider (RFC 6598)
    "127.0.0.0/8",      # loopback (RFC 1122)
    "169.254.0.0/16",   # link-local (RFC 3927)
    "172.16.0.0/12", "192.168.0.0/16",
    "192.0.0.0/24",     # protocol assignments (RFC 6890)
    "192.88.99.0/24",   # relays of 6to4 (RFC 7526)
    "198.18.0.0/15",    # benchmarks (RFC 2544)
    "192.0.2.0/24", "198.51.100.0/24", "203.0.113.0/24",  # documentation (RFC 5737)
    "224.0.0.0/4",      # multicast (RFC 5771)
    "240.0.0.0/4",      # reserved, and broadcast (RFC 1112, RFC 919)
    "::/96",            # unspecified, loopback, and IPv4 inside IPv6 of old (RFC 4291)
    "::ffff:0:0/96",    # IPv4 inside IPv6 (RFC 4291)
    "64:ff9b::/96", "64:ff9b:1::/48",  # translated to IPv4 (RFC 6052, RFC 8215)
    "100::/64",         # discarded (RFC 6666)
    "2001::/23",        # protocol assignments, Teredo among them (RFC 4380)
    "2001:db8::/32", "3fff::/20",  # documentation (RFC 3849, RFC 9637)
    "2002::/16",        # 6to4, which leads to IPv4 (RFC 3056)
    "5f00::/16",        # segment routing (RFC 9602)
    "fc00::/7",         # unique local (RFC 4193)
    "fe80::/10", "fec0::/10",  # link-local, and site-local of old (RFC 4291, RFC 3879)
    "ff00::/8",         # multicast (RFC 4291)
)]  # fmt: skip


def is_public(address: str) -> bool:
    """Tell whether an IP address is one of the open network's, where anybody's calendar may lie.

    Examples
    --------
    >>> [is_public(one) for one in ("8.8.8.8", "127.0.0.1", "::ffff:8.8.8.8", "2002:7f00:1::")]
    [True, False, False, False]
    """
    try:
        known: IPv4Address | IPv6Address = ip_address(address)
    except ValueError:
        return False
    if isinstance(known, IPv6Address) and known.scope_id is not None:
        return False
    listed = any(known in network for network in NOT_PUBLIC if network.version == known.version)
    return known.is_global and not listed
