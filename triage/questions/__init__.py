"""Which question to ask next, and whether asking pays at all.

The objective is the expected cost of the repair: an answer is worth the minutes it saves by
changing the plan. The entropy of the faults stands beside it, to order questions that save
alike and as an objective of its own. The value of information of a small decision table is
here as the textbook has it.
"""

from triage.questions._batches import MOST_TOGETHER, Batch, BatchedQuestion, choose_batch
from triage.questions._decisions import (
    expected_value_of_information,
    expected_value_of_perfect_information,
    information_gain_bits,
)
from triage.questions._entropy import expected_joint_drop, joint_entropy_bits
from triage.questions._ranking import Objective, Question, rank_questions
from triage.questions._respondent import Obstacle, Respondent, check_respondent
from triage.questions._worth import KeptPlan, answer_values

__all__ = [
    "MOST_TOGETHER",
    "Batch",
    "BatchedQuestion",
    "KeptPlan",
    "Objective",
    "Obstacle",
    "Question",
    "Respondent",
    "answer_values",
    "check_respondent",
    "choose_batch",
    "expected_joint_drop",
    "expected_value_of_information",
    "expected_value_of_perfect_information",
    "information_gain_bits",
    "joint_entropy_bits",
    "rank_questions",
]
