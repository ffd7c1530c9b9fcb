"""Captions of a show: reading them, writing them, and cutting them into segments."""

from triage.captions._cut_model import CutModel, dump_cut_model, load_cut_model, read_cut_model
from triage.captions._cutting import segment
from triage.captions._learning import CorrectedShow, learn
from triage.captions._model import KINDS, Captions, CaptionSegment, Cue, Kind, PlannedPart
from triage.captions._reader import read_captions
from triage.captions._times import format_timestamp, read_timestamp
from triage.captions._writer import write_webvtt

__all__ = [
    "KINDS",
    "CaptionSegment",
    "Captions",
    "CorrectedShow",
    "Cue",
    "CutModel",
    "Kind",
    "PlannedPart",
    "dump_cut_model",
    "format_timestamp",
    "learn",
    "load_cut_model",
    "read_captions",
    "read_cut_model",
    "read_timestamp",
    "segment",
    "write_webvtt",
]
