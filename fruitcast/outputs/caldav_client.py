"""One calendar on a CalDAV server: list, read, write and delete its resources.

Requests of RFC 4791 and RFC 4918, no more than the push needs. The password goes only to the
address that was given: over TLS with the certificate verified, or in the clear to this very
machine; redirects are not followed.
"""

from __future__ import annotations

import ipaddress
from pathlib import Path
from urllib.parse import unquote, urlsplit
from xml.etree import ElementTree

import requests
from requests.auth import HTTPBasicAuth, HTTPDigestAuth

from fruitcast.errors import CalendarServerError
from fruitcast.words import clean_line

_TIMEOUT = 30.0
_DAV = "{DAV:}"
_CALENDAR = "{urn:ietf:params:xml:ns:caldav}calendar"
_LISTING = (
    b'<?xml version="1.0" encoding="utf-8"?>'
    b'<propfind xmlns="DAV:"><prop><getetag/><resourcetype/></prop></propfind>'
)


class ServerUnreachableError(CalendarServerError):
    """The server could not be reached, or did not answer in time."""


class PreconditionFailedError(CalendarServerError):
    """The resource is no longer as it was when last seen."""


class CalendarCollection:
    """One calendar on a server.

    `address` is its own, as the server shows it for subscribing with CalDAV; `user` and `password`,
    which is kept in memory only, who writes; `ca_file` has certificates to trust besides the usual
    ones, for a server with its own authority. Raises CalendarServerError if the address would send
    the password in the clear, or holds one itself.
    """

    def __init__(
        self, address: str, user: str, password: str, *, ca_file: Path | None = None
    ) -> None:
        try:
            parts = urlsplit(address)
        except ValueError:
            parts = urlsplit("")
        if "@" in parts.netloc:
            raise CalendarServerError(
                "The calendar's address holds a user or password. Give the address without "
                "it, the user in the settings and the password in the environment."
            )
        if parts.scheme not in ("http", "https") or not parts.hostname or parts.query:
            raise CalendarServerError(
                f"'{clean_line(address)}' is not a calendar's address. It looks like "
                "https://server/path/to/calendar/ ."
            )
        if parts.scheme == "http" and not _is_this_machine(parts.hostname):
            raise CalendarServerError(
                f"{clean_line(address)}: the password would travel readable by anyone. Use the "
                "https address of the calendar."
            )
        self.address = address.rstrip("/") + "/"
        self._user, self._password = user, password
        self._session = requests.Session()
        # Given with each request: a bundle named in the environment outranks the session's own.
        self._verify: str | bool = str(ca_file) if ca_file else True
        self._session.auth = HTTPBasicAuth(user.encode(), password.encode())
        self._session.headers["User-Agent"] = "fruitcast"

    def etags(self) -> dict[str, str]:
        """Return the entity tag of every resource by its name (the end of its address)."""
        answer = self._request("PROPFIND", "", _LISTING, {"Depth": "1"})
        if answer.status_code == 401 and _asks_only_for_digest(answer):
            self._session.auth = HTTPDigestAuth(self._user, self._password)
            answer = self._request("PROPFIND", "", _LISTING, {"Depth": "1"})
        self._expect(answer, 207)
        found = self._listing(answer)
        own = _name(self.address)
        if not found.get(own, (None, False))[1]:
            raise CalendarServerError(
                f"{self.address}: there is no calendar at this address. Copy the address of one "
                "calendar (not of the account) from the server's settings."
            )
        return {name: etag for name, (etag, _) in found.items() if etag and name != own}

    def read(self, name: str) -> tuple[bytes, str] | None:
        """Return a resource's bytes and entity tag, or None when it is gone."""
        answer = self._request("GET", name)
        if answer.status_code in (404, 410):
            return None
        self._expect(answer, 200)
        return answer.content, answer.headers.get("ETag", "")

    def write(self, name: str, data: bytes, etag: str | None) -> str:
        """Create a resource (`etag` None) or replace the one of that entity tag.

        Returned is the new entity tag. Raises PreconditionFailedError if somebody else wrote or
        deleted it in between.
        """
        condition = {"If-None-Match": "*"} if etag is None else {"If-Match": etag}
        headers = {"Content-Type": "text/calendar; charset=utf-8", **condition}
        answer = self._request("PUT", name, data, headers)
        self._expect(answer, 200, 201, 204)
        # A server that stores other bytes than it was given sends no tag (RFC 4791, 5.3.4).
        return answer.headers.get("ETag") or self._etag_of(name)

    def delete(self, name: str, etag: str) -> None:
        """Delete the resource of that entity tag.

        Raises PreconditionFailedError if somebody else wrote it in between.
        """
        answer = self._request("DELETE", name, None, {"If-Match": etag})
        self._expect(answer, 200, 202, 204, 404, 410)

    def _etag_of(self, name: str) -> str:
        answer = self._request("PROPFIND", name, _LISTING, {"Depth": "0"})
        self._expect(answer, 207)
        return self._listing(answer).get(name, ("", False))[0]

    def _request(
        self, method: str, name: str, data: bytes | None = None, headers: dict | None = None
    ) -> requests.Response:
        sent = {"Content-Type": "application/xml; charset=utf-8"} if data else {}
        try:
            return self._session.request(
                method,
                self.address + name,
                data=data,
                headers={**sent, **(headers or {})},
                timeout=_TIMEOUT,
                verify=self._verify,
                allow_redirects=False,
            )
        except requests.exceptions.SSLError as error:
            raise ServerUnreachableError(
                f"{self.address}: the server's certificate cannot be trusted ({_cause(error)}). "
                "Nothing was sent. Check the address, or name the file of the server's authority."
            ) from error
        except (requests.exceptions.RequestException, OSError, ValueError) as error:
            # A ValueError: a redirection to what is no address at all.
            raise ServerUnreachableError(
                f"{self.address}: the calendar server cannot be reached ({_cause(error)}). Check "
                "the network and the address, and push again."
            ) from error

    def _expect(self, answer: requests.Response, *wanted: int) -> None:
        status = answer.status_code
        if status in wanted:
            return
        if status == 412:
            raise PreconditionFailedError(f"{answer.url}: changed by someone else meanwhile.")
        if status in (301, 302, 303, 307, 308):
            place = clean_line(answer.headers.get("Location", "elsewhere"))
            raise CalendarServerError(
                f"{self.address}: the server points to {place}. If you trust it, set that as the "
                "calendar's address."
            )
        remedy = {
            401: "Check the user and the password.",
            403: "This user may not write there; check the calendar's permissions.",
            404: "Make the calendar on the server first, and check its address.",
            405: "Check that the address is that of a calendar.",
            507: "The server has no room left.",
        }.get(status, "Try again later.")
        raise CalendarServerError(
            f"{self.address}: the calendar server answered {status} "
            f"{clean_line(answer.reason or '')}".rstrip()
            + f". {remedy}"
        )

    def _listing(self, answer: requests.Response) -> dict[str, tuple[str, bool]]:
        """Return each resource's entity tag and whether it is a calendar, by name."""
        try:
            tree = ElementTree.fromstring(answer.content)
        except (ElementTree.ParseError, LookupError, ValueError) as error:
            # Not XML, or in an encoding that nobody knows.
            raise CalendarServerError(
                f"{self.address}: the answer is not that of a calendar server ({error}). Check "
                "that the address is that of a calendar."
            ) from error
        found = {}
        for response in tree.iter(f"{_DAV}response"):
            etag, is_calendar = "", False
            for propstat in response.iter(f"{_DAV}propstat"):
                if " 200" in (propstat.findtext(f"{_DAV}status") or ""):
                    etag = propstat.findtext(f"{_DAV}prop/{_DAV}getetag") or etag
                    is_calendar |= propstat.find(f".//{_CALENDAR}") is not None
            # A tag that no header can carry tells nothing.
            etag = etag if etag.isascii() and etag.isprintable() else ""
            found[_name(response.findtext(f"{_DAV}href") or "")] = (etag, is_calendar)
        return found


def _name(address: str) -> str:
    """The last part of a resource's path; servers write the rest in several ways."""
    try:
        path = urlsplit(address.strip()).path
    except ValueError:  # what a server calls an address may be none
        return ""
    return unquote(path).rstrip("/").rpartition("/")[2]


def _is_this_machine(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _asks_only_for_digest(answer: requests.Response) -> bool:
    schemes = answer.headers.get("WWW-Authenticate", "").lower()
    return "digest" in schemes and "basic" not in schemes


def _cause(error: BaseException) -> str:
    """The innermost reason in a few words, without the library's wrapping."""
    if isinstance(error, requests.exceptions.Timeout):
        return f"no answer within {_TIMEOUT:.0f} s"
    reason = getattr(error.args[0], "reason", error) if error.args else error
    return clean_line(str(reason)).rpartition(": ")[2].rstrip("')\"")[:160]
