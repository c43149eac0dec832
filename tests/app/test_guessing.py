"""Where a yard is, as far as a map, a clock's zone and a language tell."""

import pytest

from fruitcast.app.starting import (
    Position,
    computers_zone,
    country_of_zone,
    parse_position,
    place_of_zone,
    usual_units,
    zone_at,
)
from fruitcast.errors import InputError


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("42.44, -76.50", Position(42.44, -76.5)),
        ("42.44 N, 76.5 W", Position(42.44, -76.5)),
        ("33.87° S 151.22° E", Position(-33.87, 151.22)),
        ("-33.9;151", Position(-33.9, 151.0)),
        (" 50 4 ", Position(50.0, 4.0)),
        ("56,1 14,3", Position(56.1, 14.3)),
        ("56,1; 14,3", Position(56.1, 14.3)),
        ("56,1, 14,3", Position(56.1, 14.3)),
        ("33,87° S 151,22° E", Position(-33.87, 151.22)),
        ("50,4", Position(50.0, 4.0)),
        ("42, -76", Position(42.0, -76.0)),
        ("56,1,14,3", None),
        ("Ithaca, NY", None),
        ("42.44", None),
    ],
)
def test_a_position_is_read_as_maps_show_it(text, expected):
    assert parse_position(text) == expected


def test_what_is_not_on_earth_is_refused():
    with pytest.raises(InputError, match=r"latitude 142\.4 is out of range\. Give latitude first"):
        parse_position("142.4, -76.5")


@pytest.mark.parametrize(
    ("place", "zone"),
    [
        # Cities whose zone anybody can look up, some close to a border of zones.
        (Position(42.44, -76.5), "America/New_York"),
        (Position(38.04, -87.55), "America/Chicago"),  # Evansville, Indiana
        (Position(37.93, -87.89), "America/Chicago"),
        (Position(50.85, 4.35), "Europe/Brussels"),
        (Position(35.68, 139.69), "Asia/Tokyo"),
        (Position(-33.87, 151.21), "Australia/Sydney"),
    ],
)
def test_the_zone_of_a_place_is_found_without_a_network(place, zone):
    assert zone_at(place) == zone


def test_the_zones_principal_place_and_country_are_the_data_bases():
    assert place_of_zone("Europe/Brussels") == Position(50.83, 4.33)  # +5050+00420
    assert place_of_zone("America/New_York") == Position(40.71, -74.01)  # +404251-0740023
    assert (country_of_zone("Europe/Brussels"), country_of_zone("America/New_York")) == ("BE", "US")
    assert place_of_zone("UTC") is country_of_zone("Etc/GMT+3") is None


def test_the_principal_place_of_nearly_every_zone_lies_in_it():
    """Two sources that know nothing of each other: the data base's table, and drawn borders."""
    from zoneinfo import available_timezones

    zones = [zone for zone in sorted(available_timezones()) if place_of_zone(zone)]
    agree = [zone for zone in zones if zone_at(place_of_zone(zone)) == zone]
    assert len(zones) > 400 and len(agree) / len(zones) > 0.95


def test_the_computers_zone_is_taken_from_environment_name_or_link(tmp_path):
    name, link = tmp_path / "timezone", tmp_path / "localtime"
    nothing = {"named": name, "linked": link}
    assert computers_zone({}, **nothing) is None
    assert computers_zone({"TZ": ":Europe/Paris"}, **nothing) == "Europe/Paris"
    link.symlink_to("/usr/share/zoneinfo/Asia/Tokyo")
    assert computers_zone({}, **nothing) == "Asia/Tokyo"
    name.write_text("America/Denver\n")
    assert computers_zone({}, **nothing) == "America/Denver"
    name.write_text("Etc/UTC\n")
    assert computers_zone({}, **nothing) == "Asia/Tokyo"
    assert computers_zone({"TZ": "UTC"}, named=name, linked=tmp_path / "none") is None


@pytest.mark.parametrize(
    ("environ", "country", "expected"),
    [
        ({"LANG": "en_US.UTF-8"}, "BE", "us"),
        ({"LANG": "en_US.UTF-8", "LC_MEASUREMENT": "de_DE.UTF-8"}, "US", "metric"),
        ({"LC_ALL": "nl_BE", "LANG": "en_US"}, None, "metric"),
        ({"LANG": "C.UTF-8"}, "US", "us"),
        ({}, "JP", "metric"),
        ({}, None, "us"),
    ],
)
def test_units_follow_the_language_settings_and_then_the_place(environ, country, expected):
    assert usual_units(environ, country)[0] == expected
