"""Learns the cut model from invented shows and writes its file.

Run ``python tests/benchmarks/train_segmentation.py [--each N] [--steps N] [--out FILE]``. The shows
come from the learning styles of tests/triage/captions/styles, in some of which most cases come
unannounced; most turns of speech are hidden from each lesson, so that the model does not rely on
wording that other hosts do not use. Starting weights are judgement; the share hidden and the
penalty were chosen on the styles of trying.toml, which are neither learned from nor reported on.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.triage.captions.shows import make_shows  # noqa: E402 - the path comes first
from triage.captions import (  # noqa: E402
    KINDS,
    CorrectedShow,
    CutModel,
    dump_cut_model,
    learn,
    read_captions,
)
from triage.captions._cut_model import MODEL_FILE  # noqa: E402
from triage.captions._features import BOUNDARY_NAMES, PASSAGE_NAMES  # noqa: E402
from triage.knowledge import load_knowledge  # noqa: E402

SEED = 1
UNANNOUNCED = (0.0, 0.9, 0.4, 0.7)  # shares of cases, in turn
HIDDEN = 0.8  # share of the families of turns of speech
PENALTY = 20.0  # of the squared change from judgement
NEVER = -1e9
# What a sign counts for a start of any kind, and which are fainter for what is no case
# [judgement: desk, 2026-11]
TURNS = {
    "open-next": 2.0,
    "open-move": 1.5,
    "open-count": 1.0,
    "open-source": 1.6,
    "open-says": 1.0,
    "open-show": 0.7,
    "open-link": 0.5,
    "open-strong": 1.0,
    "open-weak": 0.3,
    "close-wish": 1.0,
    "close-thank": 0.7,
    "close-settle": 0.6,
    "close-agree": 0.2,
    "open-together": 0.3,
    "pause": 0.6,
    "sentence": 0.4,
    "speaker": 0.2,
    "links-60": 0.5,
    "links-240": 0.4,
    "new-words": 0.4,
    "old-words": 0.3,
    "trade-new": 0.1,
    "begins-near": 0.3,
    "begins-far": 0.3,
    "ends-far": 0.2,
    "person-rise": 0.2,
    "telling-rise": 0.2,
    "advice-fall": 0.3,
}
OF_CASES = (
    "open-next",
    "open-count",
    "open-source",
    "open-says",
    "open-show",
    "person-rise",
    "telling-rise",
)
FAINT = 0.3


def judge_weights() -> CutModel:
    """Return the model before it has learned anything."""
    intro, case, notice, outro = range(len(KINDS))
    boundary = np.zeros((len(BOUNDARY_NAMES), len(KINDS)))
    for name, weight in TURNS.items():
        boundary[BOUNDARY_NAMES.index(name)] = weight
    for name in OF_CASES:
        boundary[BOUNDARY_NAMES.index(name), [notice, outro]] *= FAINT
    boundary[BOUNDARY_NAMES.index("open-notice"), [case, notice]] = -0.5, 1.5
    boundary[BOUNDARY_NAMES.index("open-outro"), [case, outro]] = -0.7, 2.0
    passage = np.zeros((len(PASSAGE_NAMES), len(KINDS)))
    for name, kind in (("said-intro", intro), ("said-notice", notice), ("said-outro", outro)):
        passage[PASSAGE_NAMES.index(name), [kind, case]] = 0.8, -0.2
    passage[PASSAGE_NAMES.index("trade"), case] = 0.08
    passage[PASSAGE_NAMES.index("telling"), case] = 0.03
    passage[PASSAGE_NAMES.index("advice"), case] = 0.03
    again = [NEVER, 0.0, -1.0, -1.0]
    return CutModel(
        boundary=boundary,
        passage=passage,
        start=np.array([-4.0, -5.5, -6.5, -6.0]),
        inside=np.zeros(len(KINDS)),
        cohesion=np.array([0.0, 0.2, 0.1, 0.0]),
        follow=np.array([[NEVER, 0.0, -1.0, -3.0], again, again, [NEVER] * len(KINDS)]),
        first=np.array([0.0, -2.5, -4.0, -6.0]),
        last=np.array([-5.0, -2.0, -4.0, 0.0]),
        log_length=np.log([50.0, 170.0, 50.0, 50.0]),
        log_spread=np.array([0.7, 0.55, 0.6, 0.7]),
    )


def main() -> int:
    """Learn and write the file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=6, help="shows of each style")
    parser.add_argument("--steps", type=int, default=20)
    parser.add_argument("--out", type=Path, default=MODEL_FILE)
    options = parser.parse_args()
    shows = [
        CorrectedShow(read_captions(s.data), tuple((p.start_s, p.kind) for p in s.parts))
        for s in make_shows("learning", each=options.each, seed=SEED, unannounced=UNANNOUNCED)
    ]
    model = learn(
        judge_weights(),
        shows,
        knowledge=load_knowledge(),
        steps=options.steps,
        hidden=HIDDEN,
        penalty=PENALTY,
        provenance=(
            f"Judgement of 2026-11, then {len(shows)} invented shows in the learning styles of "
            f"tests/triage/captions/styles, seed {SEED}, by tests/benchmarks/train_segmentation.py"
        ),
    )
    options.out.write_text(dump_cut_model(model), encoding="utf-8")
    sys.stdout.write(f"learned from {len(shows)} shows, written to {options.out}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
