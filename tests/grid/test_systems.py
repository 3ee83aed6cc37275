"""Grid systems."""

import pytest

from gapmap.errors import GridError
from gapmap.grid.systems import SYSTEMS, system_named, system_of, utm


def test_every_lettered_british_square_is_there_and_no_two_are_alike():
    hundreds = system_named("british").hundreds
    assert len(hundreds) == 25 * 25 == len(set(hundreds.values()))
    assert not [letters for letters in hundreds if "I" in letters]


@pytest.mark.parametrize(
    ("system", "letters", "corner"),
    [
        # Ordnance Survey, the National Grid: SV is the origin, TQ holds London, HP Unst, NT Edinburgh.
        ("british", "SV", (0, 0)), ("british", "TQ", (500_000, 100_000)), ("british", "HP", (400_000, 1_200_000)),
        ("british", "NT", (300_000, 600_000)), ("british", "OR", (600_000, 600_000)),
        ("british", "OQ", (500_000, 600_000)),
        ("british", "VV", (-1_000_000, -500_000)), ("british", "EE", (1_400_000, 1_900_000)),
        # Irish Grid: V is the south-western square, O holds Dublin, J Belfast, E the north-eastern corner.
        ("irish", "V", (0, 0)), ("irish", "O", (300_000, 200_000)), ("irish", "J", (300_000, 300_000)),
        ("irish", "E", (400_000, 400_000)),
    ],
)
def test_hundreds_lie_where_the_agencies_put_them(system, letters, corner):
    assert system_named(system).hundreds[letters] == corner


def test_systems_are_found_by_key_and_by_name():
    for key, system in SYSTEMS.items():
        assert system_of(key) is system is system_named(system.name)
    for zone in (1, 31, 60):
        for north in (True, False):
            assert system_of(utm(zone, north).key) == utm(zone, north) == system_named(utm(zone, north).name)


@pytest.mark.parametrize("key", [0, -1, 5, 100, 161, 180, 241])
def test_other_keys_are_no_system(key):
    with pytest.raises(GridError):
        system_of(key)


@pytest.mark.parametrize("name", ["", "utm", "utm0n", "utm61n", "utm31", "utm31x", "scottish", "utm²n"])
def test_other_names_are_no_system_and_the_error_says_what_to_do(name):
    with pytest.raises(GridError) as caught:
        system_named(name)
    assert "What to do: " in str(caught.value)
