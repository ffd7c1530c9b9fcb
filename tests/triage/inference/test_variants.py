"""What the posterior would be without a piece of evidence, or with its opposite."""

import math

import pytest
from hypothesis import given

from tests.triage.mixed_cases import DrawnCase, cases, with_finding, without_piece
from tests.triage.networks import make_evidence, make_network
from tests.triage.strategies import PATIENT, Drawn, networks
from triage.inference import compute_posterior, compute_variants

EXACT = 1e-11


@given(networks())
@PATIENT
def test_variants_agree_with_brute_force(drawn: Drawn) -> None:
    """Each finding left out: the exact fractions of the network without it, and its P(evidence)."""
    knowledge, evidence = drawn.knowledge, drawn.evidence
    whole = drawn.judge()

    variants = compute_variants(knowledge, evidence, compute_posterior(knowledge, evidence))

    assert variants.now == pytest.approx([float(part) for part in whole.posterior], abs=EXACT)
    for at, piece in enumerate(variants.pieces):
        pairs = {f: pair for f, pair in drawn.pairs.items() if f"e{f}" != piece.id}
        judged = Drawn(drawn.priors, drawn.leaks, drawn.links, pairs).judge()
        expected = [float(part) for part in judged.posterior]
        assert variants.without[at] == pytest.approx(expected, abs=EXACT)
        ratio = float(judged.evidence / whole.evidence)
        assert math.exp(variants.log_ratio[at]) == pytest.approx(ratio, rel=1e-9)


@given(cases())
@PATIENT
def test_variants_are_posteriors_of_the_evidence_without_the_piece(drawn: DrawnCase) -> None:
    """Findings, remedies, risks, guesses, silence and material, with the process known or not."""
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)

    variants = compute_variants(drawn.knowledge, drawn.evidence, posterior)

    for at, piece in enumerate(variants.pieces):
        rest = without_piece(drawn.evidence, piece.kind, piece.id)
        after = compute_posterior(drawn.knowledge, rest)
        assert variants.without[at] == pytest.approx(list(after.chances.values()), abs=EXACT)
        change = after.log_evidence - posterior.log_evidence
        assert variants.log_ratio[at] == pytest.approx(change, abs=1e-9)


@given(cases())
@PATIENT
def test_pieces_that_are_not_listed_change_nothing(drawn: DrawnCase) -> None:
    """Without any of them the posterior is the same."""
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)
    evidence = drawn.evidence
    pieces = [("finding", seen.finding) for seen in evidence.observations]
    pieces += [("tried", "a0")] if evidence.tried else []
    pieces += [("risk", risk) for risk in evidence.risks]
    pieces += [("guess", guess.fault) for guess in evidence.guesses]
    pieces += [("silence", "")] if evidence.telling else []
    pieces += [("text", "")] if evidence.text else []
    pieces += [("material", "M")] if evidence.material else []

    variants = compute_variants(drawn.knowledge, evidence, posterior)

    listed = {(piece.kind, piece.id) for piece in variants.pieces}
    assert listed <= set(pieces)
    for kind, name in set(pieces) - listed:
        after = compute_posterior(drawn.knowledge, without_piece(evidence, kind, name)).chances
        assert after == pytest.approx(dict(posterior.chances), abs=EXACT)


@given(cases())
@PATIENT
def test_opposites_are_posteriors_of_the_finding_turned_round(drawn: DrawnCase) -> None:
    """The opposite of each look, surely so, and how probable it is under all other evidence."""
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)
    variants = compute_variants(drawn.knowledge, drawn.evidence, posterior)

    for at, piece in enumerate(variants.pieces):
        if piece.kind != "finding" or piece.pair is None:
            continue
        believed, turned = (
            ((1.0, 0.0), (0.0, 1.0))
            if piece.pair[0] > piece.pair[1]
            else (
                (0.0, 1.0),
                (1.0, 0.0),
            )
        )
        opposite = variants.opposite(at)
        as_turned = compute_posterior(
            drawn.knowledge, with_finding(drawn.evidence, piece.id, turned)
        )
        as_believed = compute_posterior(
            drawn.knowledge, with_finding(drawn.evidence, piece.id, believed)
        )
        expected = list(as_turned.chances.values())
        # It comes by subtraction: rounding is divided by its share.
        assert opposite.chances == pytest.approx(expected, abs=1e-8)
        odds = math.exp(as_turned.log_evidence - as_believed.log_evidence)
        assert opposite.odds == pytest.approx(odds, rel=1e-8)


def test_an_opposite_that_cannot_be_has_no_posterior() -> None:
    """A finding with a leak of 1 is always there."""
    knowledge = make_network([0.2, 0.1], [1.0, 0.1], {(0, 0): 0.5, (0, 1): 0.5, (1, 1): 0.4})
    evidence = make_evidence(soft={0: (0.8, 0.3), 1: (0.7, 0.4)})

    variants = compute_variants(knowledge, evidence, compute_posterior(knowledge, evidence))

    opposite = variants.opposite([piece.id for piece in variants.pieces].index("e0"))
    assert (opposite.odds, opposite.chances) == (0.0, None)


def test_a_piece_without_a_likelihood_pair_has_no_opposite() -> None:
    """Silence cannot be turned round."""
    knowledge = make_network([0.2], [0.1], {(0, 0): 0.5})
    evidence = make_evidence(telling=0.5)

    variants = compute_variants(knowledge, evidence, compute_posterior(knowledge, evidence))

    with pytest.raises(ValueError, match="the piece 'silence ' has no opposite"):
        variants.opposite(0)


def test_no_evidence_has_no_pieces() -> None:
    """The posterior is there all the same."""
    knowledge = make_network([0.2], [0.1], {(0, 0): 0.5})
    evidence = make_evidence()

    variants = compute_variants(knowledge, evidence, compute_posterior(knowledge, evidence))

    assert variants.pieces == ()
    assert variants.without.shape == (0, 1)
    assert variants.now == pytest.approx([0.2])
