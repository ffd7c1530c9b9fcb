"""Text to findings, circumstances, tried remedies, guesses and settings, with quoted spans."""

from triage.reading.classifier import TextClassifier, load_or_train
from triage.reading.facts import FactQuery, Facts, NumberFact
from triage.reading.features import says_something
from triage.reading.likelihood import Weight, likelihood_pair
from triage.reading.meaning import SentenceModel, load_sentence_model
from triage.reading.mentions import ReadDanger, ReadRisk
from triage.reading.own_words import list_own_words
from triage.reading.reader import Reader, Reading, Vocabulary, read_text
from triage.reading.reliability import Judgement, PhraseKey, Reliability, Tally
from triage.reading.subject import WordFact
from triage.reading.tokens import READ_LIMIT

__all__ = [
    "READ_LIMIT",
    "FactQuery",
    "Facts",
    "Judgement",
    "NumberFact",
    "PhraseKey",
    "ReadDanger",
    "ReadRisk",
    "Reader",
    "Reading",
    "Reliability",
    "SentenceModel",
    "Tally",
    "TextClassifier",
    "Vocabulary",
    "Weight",
    "WordFact",
    "likelihood_pair",
    "list_own_words",
    "load_or_train",
    "load_sentence_model",
    "read_text",
    "says_something",
]
