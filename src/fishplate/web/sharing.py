"""A build shared on the home network: under which names, with which certificate, and who is at the door."""

from __future__ import annotations

import ipaddress
import re
import socket
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from ..build import Problem, Refused
from ..store.devices import Device, DeviceBook
from .invitations import Invitations

if TYPE_CHECKING:
    from .certificate import Certificate

KEPT_SECONDS: Final = 400 * 24 * 3600  # as long as browsers keep a cookie; the book ends it earlier


@dataclass(slots=True)
class Share:
    """What a build is shared with.

    Parameters
    ----------
    build_id : the build's; cookies know no ports, so that each build needs a cookie of its own
    addresses : where it listens; names : what it is called by, addresses among them
    certificate : changes when it is renewed
    """

    build_id: str
    addresses: tuple[str, ...]
    names: frozenset[str]
    port: int
    certificate: Certificate
    book: DeviceBook
    invitations: Invitations = field(default_factory=Invitations)

    @property
    def places(self) -> tuple[str, ...]:
        """Addresses as they are typed into a browser."""
        return tuple(f"https://{_in_url(address)}:{self.port}/" for address in self.addresses)

    @property
    def cookie(self) -> str:
        """Name of the cookie that holds a device's key.

        The prefix makes browsers take it only over https, from this host alone, for every path (RFC 6265bis, 4.1.3.2).
        """
        return f"__Host-fishplate-{self.build_id[:8]}"

    def cookie_with(self, key: str) -> str:
        """The header that gives a device its key."""
        return f"{self.cookie}={key}; Path=/; Max-Age={KEPT_SECONDS}; Secure; HttpOnly; SameSite=Strict"

    def device(self, cookies: dict[str, str]) -> Device | None:
        """The device that a request comes from, if it was let in."""
        key = cookies.get(self.cookie, "")
        return self.book.of(key) if key else None


_HOST_NAME: Final = re.compile(r"[a-z0-9-]{1,63}(\.[a-z0-9-]{1,63})*")  # RFC 1123, 2.1


def _in_url(address: str) -> str:
    return f"[{address}]" if ":" in address else address


def home_addresses(wanted: Iterable[str] = ()) -> tuple[str, ...]:
    """Addresses of this machine on the home network.

    Parameters
    ----------
    wanted : the ones to take; found if left out

    Returns
    -------
    private addresses (RFC 1918, RFC 4193): one that the whole internet can reach is not for a build

    Raises
    ------
    Refused
        if one of those wanted is not private, or none is found
    """
    if given := tuple(dict.fromkeys(wanted)):
        wrong = [each for each in given if not _is_private(each)]
        do = "Give an address of this machine on the home network, as in 192.168.1.20."
        if wrong:
            raise Refused(Problem("--address", "not-private", "not a private address", each[:60], do) for each in wrong)
        return given
    found = tuple(dict.fromkeys(each for each in _own_addresses() if _is_private(each)))
    if not found:
        do = "Connect to the home network, or give the address with --address."
        raise Refused([Problem("--share", "no-network", "this machine is on no home network", "", do)])
    return found


def _is_private(address: str) -> bool:
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return False
    no_home = found.is_loopback or found.is_unspecified or found.is_multicast or found.is_reserved
    return found.is_private and not no_home and not (found.version == 6 and found.is_link_local)


def _own_addresses() -> list[str]:
    """The address that leads out, then those that go with the host's name."""
    found = []
    for family, outside in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        try:
            with socket.socket(family, socket.SOCK_DGRAM) as probe:
                probe.connect((outside, 9))  # nothing is sent: this only asks which way it would go
                found.append(str(probe.getsockname()[0]))
        except OSError:
            continue
    with suppress(OSError):
        found += [str(each[4][0]) for each in socket.getaddrinfo(socket.gethostname(), None)]
    return found


def home_names(addresses: Sequence[str]) -> frozenset[str]:
    """What this machine is called by on the home network: its addresses and its host name."""
    host = socket.gethostname().lower().removesuffix(".local")
    is_name = host != "localhost" and _HOST_NAME.fullmatch(host) is not None
    return frozenset((*addresses, host, f"{host}.local") if is_name else addresses)


def listening(addresses: Sequence[str], port: int) -> list[socket.socket]:
    """Sockets that listen; raises Refused if an address is not this machine's or the port is taken."""
    found: list[socket.socket] = []
    for address in addresses:
        family = socket.AF_INET6 if ":" in address else socket.AF_INET
        # the event loop sends small pieces at once only through sockets that name TCP; others lag 40 ms a page
        made = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        found.append(made)
        try:
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            if family == socket.AF_INET6:
                made.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
            made.bind((address, port))
            made.set_inheritable(False)
        except OSError as error:
            for each in found:
                each.close()
            what = f"can't be listened on: {error.strerror}"
            do = "Give another --share-port, or an --address of this machine."
            raise Refused([Problem(f"{address}, port {port}", "no-listening", what, "", do)]) from None
    return found
