"""Error messages name what is nearest."""

import pytest

from triage.errors import InputError, TriageError, UnknownIdError, nearest_name


def test_nearest_name_is_the_most_alike() -> None:
    """Of several alike the nearest, of none alike nothing."""
    valid = ["belt-loose", "pulley-loose", "ringing"]

    assert nearest_name("belt-lose", valid) == "belt-loose"
    assert nearest_name("zzz", valid) is None


def test_unknown_id_is_an_input_error() -> None:
    """Callers may catch the whole tree by its root."""
    error = UnknownIdError("fault", "ringng", ["ringing"])

    assert isinstance(error, InputError)
    assert isinstance(error, TriageError)
    assert (error.kind, error.name) == ("fault", "ringng")
    with pytest.raises(TriageError, match=r"unknown fault 'ringng'; .* 'ringing'"):
        raise error
