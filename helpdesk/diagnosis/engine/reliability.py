"""How reliable phrases are, as the desk's people judged them: kept in a file and read back.

The file is written by ``manage.py train_reader``. Without one, or with one that cannot be read,
every phrase counts as the knowledge says.
"""

import functools
import json
import logging
from pathlib import Path

from django.conf import settings

from triage.errors import InputError
from triage.reading import Reliability

MOST_KEPT = 2  # states of the file a process keeps: before and after training anew

logger = logging.getLogger(__name__)


def phrases_path() -> Path:
    """Return where the desk keeps what it learnt of phrases."""
    return Path(settings.DATA_DIR) / "phrases.json"


def keep_reliability(learnt: Reliability) -> Path:
    """Write what was learnt, in place at once, so that nobody reads half of it."""
    path = phrases_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(".unfinished")
    unfinished.write_text(json.dumps(learnt.to_json(), indent=1), encoding="utf-8")
    unfinished.replace(path)
    return path


def find_phrases_stamp() -> int | None:
    """Return when the file was last written, in nanoseconds, None when there is none."""
    try:
        return phrases_path().stat().st_mtime_ns
    except OSError:
        return None


@functools.lru_cache(maxsize=MOST_KEPT)
def get_reliability(stamp: int | None) -> Reliability:
    """Return what the file held at a time; nothing when there is none that can be read."""
    if stamp is None:
        return Reliability()
    try:
        return Reliability.from_json(json.loads(phrases_path().read_text(encoding="utf-8")))
    except (OSError, ValueError, RecursionError, InputError) as error:
        logger.warning("What was learnt of phrases is not used: %s", error)
        return Reliability()
