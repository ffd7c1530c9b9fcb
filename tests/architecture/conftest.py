"""What the tests of the whole project share."""

import pytest

from tests.architecture.world import World, make_world


@pytest.fixture
def world(db: None) -> World:
    """Return a desk with something of every kind in it."""
    return make_world()
