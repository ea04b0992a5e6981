"""Who may come in: tokens, names and origins."""

from __future__ import annotations

import pytest

from monitor.dashboard.web.door import Answer, Door, is_loopback, new_token

HERE = "127.0.0.1:8000"


@pytest.mark.parametrize("address", ["127.0.0.1", "127.8.9.1", "::1", "localhost", "LOCALHOST"])
def test_loopback(address: str) -> None:
    """The loopback range of RFC 1122 section 3.2.1.3, RFC 4291's address, and the name of RFC 6761."""
    assert is_loopback(address)


@pytest.mark.parametrize("address", ["0.0.0.0", "::", "192.0.2.7", "2001:db8::7", "localhost.example", "set.local", ""])  # noqa: S104 - nothing listens
def test_anything_else_is_reached_from_elsewhere(address: str) -> None:
    """Every address, one of this computer, one of another, a name that only begins like it."""
    assert not is_loopback(address)


@pytest.mark.parametrize("host", [HERE, "localhost:8000", "[::1]:8000", "localhost"])
def test_without_a_token_this_computer_comes_in(host: str) -> None:
    """By each of its names, with its own origin and without."""
    door = Door()
    assert door.answer(host, None, "") is Answer.COME_IN
    assert door.answer(host, f"http://{host}", "") is Answer.COME_IN


@pytest.mark.parametrize("host", ["elsewhere.example:8000", "192.0.2.7:8000", "[", "", "127.0.0.1.example"])
def test_without_a_token_no_other_name_does(host: str) -> None:
    """A name that somebody else can point at this computer opens nothing."""
    assert Door().answer(host, None, "") is Answer.REFUSED


@pytest.mark.parametrize("token", ["", "right"])
@pytest.mark.parametrize("origin", ["http://elsewhere.example", "http://127.0.0.1:8001", "null", "http://[", ""])
def test_no_page_of_another_origin_is_answered(token: str, origin: str) -> None:
    """Not even with the right token, which a browser may send along."""
    assert Door(token).answer(HERE, origin, token) is Answer.REFUSED


def test_a_token_opens_under_any_name() -> None:
    """The right one does, nothing else, and an empty one never."""
    door = Door("right")
    assert door.answer("set.example:8000", "http://set.example:8000", "right") is Answer.COME_IN
    for wrong in ("", "righ", "right ", "RIGHT", "r\u0131ght"):
        assert door.answer("set.example:8000", None, wrong) is Answer.TOKEN_WANTED


def test_tokens_differ() -> None:
    """Two are never the same, and each carries at least 128 bits in letters that an address can hold."""
    first, second = new_token(), new_token()
    assert first != second
    assert len(first) >= 22
    assert first.replace("-", "").replace("_", "").isalnum()
