"""The numbers by which a show without a run sheet is cut, and their file."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import numpy as np

from triage.captions._features import BOUNDARY_NAMES, PASSAGE_NAMES
from triage.captions._model import KINDS
from triage.errors import InputError
from triage.knowledge._model import Floats

MODEL_FILE: Final = Path(__file__).parent / "data" / "cut_model.json"
_TABLES: Final = {
    "boundary": (len(BOUNDARY_NAMES), len(KINDS)),
    "passage": (len(PASSAGE_NAMES), len(KINDS)),
    "start": (len(KINDS),),
    "inside": (len(KINDS),),
    "cohesion": (len(KINDS),),
    "follow": (len(KINDS), len(KINDS)),
    "first": (len(KINDS),),
    "last": (len(KINDS),),
    "log_length": (len(KINDS),),
    "log_spread": (len(KINDS),),
}


@dataclass(frozen=True, slots=True, eq=False)
class CutModel:
    """Weights of a cut, for the kinds intro, case, notice and outro in this order.

    Parameters
    ----------
    boundary : array, shape (boundary names, kinds)
        What a sign counts for a part of a kind that starts there.
    passage : array, shape (passage names, kinds)
        What a sign counts for the kind of the part it is said in.
    start : array, shape (kinds,)
        What speaks for a start of a kind anywhere; below 0.
    inside : array, shape (kinds,)
        What speaks for a kind, each minute.
    cohesion : array, shape (kinds,)
        What it counts that the words of a part of a kind belong together.
    follow : array, shape (kinds, kinds)
        What speaks for a kind (column) behind another (row).
    first, last : array, shape (kinds,)
        What speaks for a kind at the start and the end of the show.
    log_length, log_spread : array, shape (kinds,)
        Mean and standard deviation of the logarithm of a part's length in seconds.
    shows : int
        How many shows it was learned from.
    provenance : str
        Where those shows come from.
    """

    boundary: Floats
    passage: Floats
    start: Floats
    inside: Floats
    cohesion: Floats
    follow: Floats
    first: Floats
    last: Floats
    log_length: Floats
    log_spread: Floats
    shows: int = 0
    provenance: str = ""


def dump_cut_model(model: CutModel) -> str:
    """Return a model as JSON, which `read_cut_model` reads."""
    tables: dict[str, Any] = {}
    for name in _TABLES:
        table = getattr(model, name)
        columns = {kind: table[..., at] for at, kind in enumerate(KINDS)}
        tables[name] = {kind: _dump(name, column) for kind, column in columns.items()}
    about = {"provenance": model.provenance, "shows": model.shows}
    return json.dumps(about | tables, indent=1, ensure_ascii=False) + "\n"


def read_cut_model(text: str) -> CutModel:
    """Return a model from its JSON.

    Raises
    ------
    InputError
        If it is no JSON, or a number is missing or not finite.
    """
    try:
        data = json.loads(text)
        tables = {name: _load(name, data[name]) for name in _TABLES}
        shows, provenance = int(data["shows"]), str(data["provenance"])
    except (KeyError, TypeError, ValueError) as error:
        msg = f"the model of cuts cannot be read: {error!r}"
        raise InputError(msg) from error
    if any(tables["log_spread"] <= 0.0):
        msg = "the model of cuts has a spread of lengths that is not above 0"
        raise InputError(msg)
    return CutModel(**tables, shows=shows, provenance=provenance)


@lru_cache(maxsize=1)
def load_cut_model() -> CutModel:
    """Return the model that comes with the engine."""
    return read_cut_model(MODEL_FILE.read_text(encoding="utf-8"))


def _row_names(name: str) -> tuple[str, ...]:
    rows = {"boundary": BOUNDARY_NAMES, "passage": PASSAGE_NAMES, "follow": KINDS}
    return rows.get(name, ())


def _dump(name: str, column: Floats) -> dict[str, float] | float:
    rounded = np.round(column, 4)
    rows = _row_names(name)
    return dict(zip(rows, rounded.tolist(), strict=True)) if rows else float(rounded)


def _load(name: str, data: Mapping[str, Any]) -> Floats:
    rows = _row_names(name)
    columns = [[data[kind][row] for row in rows] if rows else data[kind] for kind in KINDS]
    table = np.array(columns, dtype=np.float64).T
    if table.shape != _TABLES[name] or not np.isfinite(table).all():
        msg = f"'{name}' has a number that is missing or not finite"
        raise ValueError(msg)
    return table
