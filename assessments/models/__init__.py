"""What was asked, answered, marked, reviewed, and what it adds up to."""

from .assign import Assignment, Leeway, ProgrammeRequirement, Quiz, Step
from .attempts import Answer, AnswerHistory, Attempt, Mark, Submission
from .own import DeskHabit, OwnQuiz, Recall
from .plan import PlannedTune, SetList, SetTune
from .questions import Objection, ReadingQuestion
from .record import Evidence, Listening, SignOff
from .review import AcceptedAnswer, Comment, KeyChange, MarkOverride

__all__ = [
    "AcceptedAnswer",
    "Answer",
    "AnswerHistory",
    "Assignment",
    "Attempt",
    "Comment",
    "DeskHabit",
    "Evidence",
    "KeyChange",
    "Leeway",
    "Listening",
    "Mark",
    "MarkOverride",
    "Objection",
    "OwnQuiz",
    "PlannedTune",
    "ProgrammeRequirement",
    "Quiz",
    "ReadingQuestion",
    "Recall",
    "SetList",
    "SetTune",
    "SignOff",
    "Step",
    "Submission",
]
