"""Which setting a quantity is: by its unit, and by the label before or behind it."""

from collections.abc import Iterator, Sequence
from typing import Final

from triage.reading.conversions import as_exposure, as_flow
from triage.reading.drying import find_drying
from triage.reading.fans import is_fan_speed, read_fans_off
from triage.reading.labels import (
    CONNECTORS,
    COUNTED,
    DISTANCES,
    EARLY,
    FAILING,
    FINE,
    LABELS,
    LASTING,
    MOVED,
    QUALIFIERS,
    REACHED,
    RETRACTING,
    SIZES,
    TAKING,
    TEMP_WORDS,
    THROUGH,
    UPWARD,
    VAGUE,
)
from triage.reading.quantities import Quantity, read_quantities
from triage.reading.tokens import Document
from triage.reading.walls import read_walls

_LABEL_REACH: Final = 5
_PLATE_AFTER_C: Final = (20.0, 130.0)
_NOZZLE_ALONE_C: Final = (150.0, 500.0)
_BED_ALONE_C: Final = (15.0, 150.0)
_LEAST_SPOKEN_C: Final = 15.0
_BARE_BORES_MM: Final = frozenset({0.4, 0.6, 0.8})
_SMALLEST_HEIGHT_MM: Final = 1.0
_DRAWN_BACK_MM_S: Final = (5.0, 150.0)
_GREATEST_LAYER_MM: Final = 5.0
_GREATEST_BORE_MM: Final = 10.0
_LONGEST_PRINT_H: Final = 400.0


def read_settings(document: Document) -> Iterator[tuple[str, Quantity]]:
    """Yield (name of the fact, quantity) for every quantity that can be told, in text order."""
    quantities = read_quantities(document)
    drying = find_drying(document, quantities)
    reader = _Settings(document, quantities)
    for place, quantity in enumerate(quantities):
        found = (drying[place], quantity) if place in drying else reader.assign(place)
        if found is not None:
            yield found
    yield from read_walls(document)
    yield from read_fans_off(document)


class _Settings:
    """Assigns quantities one after the other, remembering which labels are taken."""

    def __init__(self, document: Document, quantities: Sequence[Quantity]) -> None:
        self._document = document
        self._quantities = quantities
        self._taken: set[tuple[int, bool]] = set()
        self._last_name = ""

    def assign(self, place: int) -> tuple[str, Quantity] | None:
        """Return the fact a quantity is, or None."""
        quantity = self._quantities[place]
        name, quantity = self._name(place, quantity)
        self._last_name = name
        return (name, quantity) if name else None

    def _name(self, place: int, quantity: Quantity) -> tuple[str, Quantity]:
        if quantity.dimension == "other":
            return "", quantity
        if quantity.dimension == "speed":
            return self._speed(quantity), quantity
        before = self._label_before(place)
        after = self._label_after(place)
        for label in (before, after):
            if label is None:
                continue
            name, fitted = self._by_label(quantity, *label)
            if name:
                self._taken.add((label[1], _is_small(quantity)))
                return name, fitted
        away = any(label is not None and label[0] == "away" for label in (before, after))
        return "" if away else self._without_label(place, quantity), quantity

    def _label_before(self, place: int) -> tuple[str, int] | None:
        """Return label and word index before a quantity, past connecting words only."""
        document, quantity = self._document, self._quantities[place]
        stop = self._quantities[place - 1].last if place else -1
        at = quantity.first - 1
        while at > stop and quantity.first - at <= _LABEL_REACH:
            if document.segments[at] != document.segments[quantity.first]:
                return None
            if set(document.after[at]) & set(",;()") or self._is_taken(at, quantity):
                return None
            word = document.words[at]
            # "hot end" is one label of two words, "cooling fan" another.
            if word in LABELS and not (word == "tip" and at and document.words[at - 1] == "the"):
                return LABELS[word], at
            if word not in CONNECTORS:
                return None
            at -= 1
        return None

    def _label_after(self, place: int) -> tuple[str, int] | None:
        """Return label and word index behind a quantity, past describing words only."""
        document, quantity = self._document, self._quantities[place]
        at = quantity.last + 1
        while at < len(document.words) and at - quantity.last <= 3:
            if document.segments[at] != document.segments[quantity.last]:
                return None
            if set(document.after[at - 1]) & set(",;:()/"):
                return None
            word = document.words[at]
            if word in LABELS and (word != "hot" or document.words[at + 1 : at + 2] == ["end"]):
                taken = self._belongs_to_next(place, at) or self._is_taken(at, quantity)
                return None if taken else (LABELS[word], at)
            if word not in QUALIFIERS:
                return None
            at += 1
        return None

    def _is_taken(self, at: int, quantity: Quantity) -> bool:
        return (at, _is_small(quantity)) in self._taken

    def _belongs_to_next(self, place: int, label: int) -> bool:
        """Whether the label leads up to the next quantity, which is of the same kind."""
        if place + 1 >= len(self._quantities):
            return False
        following = self._quantities[place + 1]
        between = self._document.words[label + 1 : following.first]
        breaks = "".join(self._document.after[label : following.first])
        leads = all(word in CONNECTORS for word in between) and not set(breaks) & set(",;.()/")
        same = _is_small(following) == _is_small(self._quantities[place])
        return (
            leads
            and same
            and following.dimension not in {"time", "speed", "percent"}
            and not self._label_after_next(place)
        )

    def _label_after_next(self, place: int) -> bool:
        following = self._quantities[place + 1]
        words = self._document.words[following.last + 1 : following.last + 2]
        return any(word in LABELS for word in words)

    def _by_label(self, quantity: Quantity, label: str, at: int) -> tuple[str, Quantity]:
        """Return the fact's name and the quantity in its unit, or "" when they do not agree."""
        document = self._document
        early = at > 0 and document.words[at - 1] in EARLY
        if label in {"nozzle", "hotend"}:
            return self._at_nozzle(quantity, label)
        if label == "bed":
            return ("bed_c" if self._is_temperature(quantity, _BED_ALONE_C) else ""), quantity
        if label == "layer":
            return ("" if early else self._layer(quantity)), quantity
        if label == "speed":
            return self._speed_label(quantity, at), quantity
        if label == "retract":
            return self._retraction(quantity, at), quantity
        if label == "fan":
            behind = self._words_behind(quantity, 1)
            fits = is_fan_speed(quantity, is_before=at < quantity.first, behind=behind)
            return ("fan_pct" if fits else ""), quantity
        if label == "flow":
            return as_flow(quantity)
        if label == "exposure":
            return ("", quantity) if early else as_exposure(quantity)
        return "", quantity

    def _at_nozzle(self, quantity: Quantity, label: str) -> tuple[str, Quantity]:
        if self._is_temperature(quantity, _NOZZLE_ALONE_C):
            return "nozzle_c", quantity
        whole = quantity.value == int(quantity.value)
        behind = set(self._words_behind(quantity, 3))
        if quantity.dimension == "length" and not behind & DISTANCES:
            # Hot ends are named for their filament, nozzles for their bore.
            fits = quantity.value <= (_GREATEST_BORE_MM if label == "nozzle" else 1.2)
            return ("nozzle_mm" if fits and quantity.value not in {1.75, 2.85} else ""), quantity
        if quantity.dimension == "none" and not whole and quantity.value <= 1.2:
            return ("" if behind & DISTANCES else "nozzle_mm"), quantity
        return "", quantity

    def _is_temperature(self, quantity: Quantity, bare: tuple[float, float]) -> bool:
        """Whether a quantity beside its label is a temperature; without a unit in `bare` only."""
        if quantity.dimension == "temperature":
            return True
        counted = set(self._words_behind(quantity, 1)) & COUNTED
        # "nozzle temp 2000" is asked about; a comma ends what the word speaks of.
        clause = self._document.clauses[quantity.first]
        near = range(max(0, quantity.first - 3), quantity.first)
        spoken = any(
            self._document.words[at] in TEMP_WORDS and self._document.clauses[at] == clause
            for at in near
        )
        low, high = bare
        fits = low <= quantity.value <= high or (spoken and quantity.value >= _LEAST_SPOKEN_C)
        return quantity.dimension == "none" and fits and not counted

    def _layer(self, quantity: Quantity) -> str:
        over = DISTANCES.intersection(self._words_behind(quantity, 1)) - {"high", "thick"}
        if quantity.dimension == "length" and quantity.value <= _GREATEST_LAYER_MM and not over:
            return "layer_height_mm"
        bare = quantity.dimension == "none" and quantity.value <= 1.2
        return "layer_height_mm" if bare and quantity.value != int(quantity.value) else ""

    def _speed_label(self, quantity: Quantity, at: int) -> str:
        before = set(self._document.words[max(0, at - 2) : at])
        if before & {"fan", "fans", "cooling"} and quantity.dimension == "percent":
            return "fan_pct"
        bare = quantity.dimension == "none" and quantity.value >= 5.0
        if before & RETRACTING:
            return "retraction_mm_s" if bare else ""
        aside = before & ({"travel", "fan", "lift"} | EARLY)
        return "speed_mm_s" if bare and not aside else ""

    def _retraction(self, quantity: Quantity, at: int) -> str:
        between = self._document.words[at : quantity.first]
        if "speed" in between or "rate" in between:
            return "retraction_mm_s" if quantity.dimension == "none" else ""
        bare = quantity.dimension == "none" and quantity.value <= 20.0 and at < quantity.first
        counted = set(self._words_behind(quantity, 1)) & COUNTED
        is_length = quantity.dimension == "length"
        return "retraction_mm" if is_length or (bare and not counted) else ""

    def _speed(self, quantity: Quantity) -> str:
        around = set(self._words_before(quantity, 4)) | set(self._words_behind(quantity, 3))
        if around & ({"travel", "travels", "jerk", "lift"} | EARLY):
            return ""
        if not around & RETRACTING:
            return "speed_mm_s"
        _, stop = document_sentence(self._document, quantity)
        clause = self._document.clauses[quantity.first]
        near = range(max(0, quantity.first - 4), min(stop, quantity.last + 4))
        beside = (self._document.words[at] for at in near if self._document.clauses[at] == clause)
        # Behind a comma it may be the speed of printing or of drawing back, so it is neither.
        return "retraction_mm_s" if RETRACTING.intersection(beside) else ""

    def _without_label(self, place: int, quantity: Quantity) -> str:
        if quantity.dimension == "temperature":
            return self._unlabelled_temperature(place, quantity)
        if quantity.dimension == "none":
            return self._unlabelled_number(place, quantity)
        if quantity.dimension == "length":
            return self._unlabelled_length(quantity)
        if quantity.dimension == "time":
            return self._time(quantity)
        return ""

    def _unlabelled_temperature(self, place: int, quantity: Quantity) -> str:
        low, high = _NOZZLE_ALONE_C
        if low <= quantity.value <= high and not self._is_about(quantity, "away"):
            return "nozzle_c"
        return "bed_c" if self._follows_nozzle(place, quantity) else ""

    def _follows_nozzle(self, place: int, quantity: Quantity) -> bool:
        """Whether this is the second of a pair like "210/60" or "200 and 60"."""
        if self._last_name != "nozzle_c" or not place:
            return False
        joint = quantity.first - self._quantities[place - 1].last
        low, high = _PLATE_AFTER_C
        slash = self._document.after[quantity.first - 1].strip() in {"/", ",", ""}
        spoken = joint == 2 and self._document.words[quantity.first - 1] in {"and", "on", "with"}
        return low <= quantity.value <= high and slash and (joint == 1 or spoken)

    def _unlabelled_number(self, place: int, quantity: Quantity) -> str:
        low, high = _NOZZLE_ALONE_C
        if low <= quantity.value <= high and self._starts_pair(place, quantity):
            return "nozzle_c"
        if self._follows_nozzle(place, quantity) and not self._is_counted(quantity):
            return "bed_c"
        if self._follows_retraction(place, quantity):
            return "retraction_mm_s"
        if self._is_z(quantity):
            return "failed_at_mm"
        if low <= quantity.value <= high and self._leads_to_bed(place, quantity):
            return "nozzle_c"
        spoken = set(self._words_before(quantity, 3)) & TEMP_WORDS
        told = spoken or self._has_bed_behind(place, quantity) or self._is_marked(quantity)
        return "nozzle_c" if told and low <= quantity.value <= high else ""

    def _has_bed_behind(self, place: int, quantity: Quantity) -> bool:
        """Whether "bed" behind leads up to the plate's own number: "at 215 bed 60"."""
        behind = [LABELS.get(word) for word in self._words_behind(quantity, 1)]
        if behind != ["bed"] or place + 1 >= len(self._quantities):
            return False
        between = self._document.words[quantity.last + 2 : self._quantities[place + 1].first]
        return len(between) <= 2 and all(word in CONNECTORS for word in between)

    def _is_marked(self, quantity: Quantity) -> bool:
        """Whether a bare number stands behind an "at" sign: "PETG @ 245"."""
        before = self._document.after[quantity.first - 1] if quantity.first else ""
        return "@" in before and not self._is_counted(quantity)

    def _follows_retraction(self, place: int, quantity: Quantity) -> bool:
        """Whether this is the second of "5mm retraction at 40"."""
        if self._last_name != "retraction_mm" or not place or self._is_counted(quantity):
            return False
        last = self._quantities[place - 1].last
        between = set(self._document.words[last + 1 : quantity.first])
        gaps = "".join(self._document.after[last : quantity.first])
        low, high = _DRAWN_BACK_MM_S
        told = "at" in between or "@" in gaps
        fits = low <= quantity.value <= high and not set(gaps) & set(",;.()")
        return told and fits and between <= RETRACTING | {"at", "and", "a", "speed", "of"}

    def _is_z(self, quantity: Quantity) -> bool:
        """Whether this is the bare height in "it fails at z=80"."""
        first, _ = document_sentence(self._document, quantity)
        earlier = self._document.words[first : quantity.first]
        failing = FAILING.intersection(earlier[-12:])
        return bool(earlier[-1:] == ["z"] and failing and quantity.value >= _SMALLEST_HEIGHT_MM)

    def _leads_to_bed(self, place: int, quantity: Quantity) -> bool:
        """Whether a comma and the plate's own number follow: "(210, bed 60)"."""
        if place + 1 >= len(self._quantities) or self._is_counted(quantity):
            return False
        following = self._quantities[place + 1]
        between = self._document.words[quantity.last + 1 : following.first]
        low, high = _PLATE_AFTER_C
        spoken = [word for word in between if word not in CONNECTORS]
        bed = len(spoken) == 1 and LABELS.get(spoken[0]) == "bed"
        return bed and len(between) <= 3 and low <= following.value <= high

    def _is_counted(self, quantity: Quantity) -> bool:
        return bool(set(self._words_behind(quantity, 1)) & COUNTED)

    def _starts_pair(self, place: int, quantity: Quantity) -> bool:
        if place + 1 >= len(self._quantities):
            return False
        following = self._quantities[place + 1]
        low, high = _PLATE_AFTER_C
        slashed = self._document.after[quantity.last].strip() == "/"
        fits = following.dimension in {"none", "temperature"} and low <= following.value <= high
        return slashed and fits and following.first == quantity.last + 1

    def _unlabelled_length(self, quantity: Quantity) -> str:
        document = self._document
        unit = document.words[quantity.last]
        if unit in {"micron", "microns", "um", "μm"}:
            return "layer_height_mm" if 0.01 <= quantity.value <= 1.0 else ""
        if quantity.value in _BARE_BORES_MM and not self._is_about(quantity, "layer", "away"):
            behind = set(self._words_behind(quantity, 2))
            moved = self._lead(quantity) in MOVED
            return "" if moved or behind & (SIZES | DISTANCES) else "nozzle_mm"
        return "failed_at_mm" if self._is_height(quantity) else ""

    def _is_height(self, quantity: Quantity) -> bool:
        behind = self._words_behind(quantity, 2)
        if quantity.value < _SMALLEST_HEIGHT_MM or set(behind[:1]) & SIZES:
            return False
        lead = self._lead(quantity)
        first, _ = document_sentence(self._document, quantity)
        earlier = self._document.words[first : quantity.first]
        if lead in REACHED and (lead != "to" or not MOVED.intersection(earlier[-5:])):
            return True
        if lead in MOVED or set(behind) & SIZES:
            return False
        if behind[:1] and behind[0] in UPWARD:
            return True
        return bool(FAILING.intersection(earlier[-12:]))

    def _time(self, quantity: Quantity) -> str:
        behind = self._words_behind(quantity, 1)
        lead = self._lead(quantity)
        if self._is_about(quantity, "away", "exposure") or set(behind) & LASTING:
            return ""
        if lead in TAKING or not 1 / 60 <= quantity.value <= _LONGEST_PRINT_H:
            return ""
        if lead in {"after", "until", "till", "at", "past"} or set(behind) & THROUGH:
            return "failed_after_h"
        first, stop = document_sentence(self._document, quantity)
        clause = set(
            self._document.words[max(first, quantity.first - 6) : min(stop, quantity.last + 3)]
        )
        return "failed_after_h" if lead == "for" and clause & FINE else ""

    def _lead(self, quantity: Quantity) -> str:
        """Return the word before a quantity, past words such as "about"."""
        for word in reversed(self._words_before(quantity, 4)):
            if word not in VAGUE:
                return word
            if word == "height":
                return word
        return ""

    def _is_about(self, quantity: Quantity, *labels: str) -> bool:
        around = [*self._words_before(quantity, 6), *self._words_behind(quantity, 4)]
        return any(LABELS.get(word) in labels for word in around)

    def _words_before(self, quantity: Quantity, count: int) -> Sequence[str]:
        first, _ = document_sentence(self._document, quantity)
        return self._document.words[max(first, quantity.first - count) : quantity.first]

    def _words_behind(self, quantity: Quantity, count: int) -> Sequence[str]:
        """Return the words behind a quantity up to the end of its clause."""
        document = self._document
        stop = quantity.last + 1
        while (
            stop < len(document.words)
            and stop - quantity.last <= count
            and document.clauses[stop] == document.clauses[quantity.last]
        ):
            stop += 1
        return document.words[quantity.last + 1 : stop]


def document_sentence(document: Document, quantity: Quantity) -> tuple[int, int]:
    """Return the word range of the sentence a quantity stands in."""
    return document.sentence_range(quantity.first)


def _is_small(quantity: Quantity) -> bool:
    """Whether the quantity can be a length or ratio rather than a temperature."""
    return quantity.dimension == "length" or (quantity.dimension == "none" and quantity.value < 15)
