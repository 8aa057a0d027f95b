"""Where the bench listens: on this machine alone unless it is shared."""

from __future__ import annotations

import ipaddress

import pytest

from bubblegrade.bench.serving import HERE, listening_on, own_address
from bubblegrade.errors import InputError


def test_it_listens_on_the_loopback_alone() -> None:
    with listening_on(HERE, None) as listening:
        assert ipaddress.ip_address(listening.getsockname()[0]).is_loopback


def test_without_a_port_a_taken_one_is_passed_over_and_a_named_one_is_refused() -> None:
    with listening_on(HERE, None) as first, listening_on(HERE, None) as second:
        ports = [one.getsockname()[1] for one in (first, second)]
        assert len(set(ports)) == 2
        with pytest.raises(InputError, match=f"port {ports[1]} is taken: name another with --port"):
            listening_on(HERE, ports[1])


def test_this_machines_address_is_one_that_others_can_use() -> None:
    address = own_address()
    assert address is None or not ipaddress.ip_address(address).is_unspecified
