"""What was asked, answered, marked, reviewed, and what it adds up to."""

from .assign import Assignment, ProgrammeRequirement, Quiz, Step
from .attempts import Answer, AnswerHistory, Attempt, Mark, Submission
from .plan import PlannedTune
from .record import Evidence, Listening, SignOff
from .review import AcceptedAnswer, Comment, KeyChange, MarkOverride

__all__ = [
    "AcceptedAnswer",
    "Answer",
    "AnswerHistory",
    "Assignment",
    "Attempt",
    "Comment",
    "Evidence",
    "KeyChange",
    "Listening",
    "Mark",
    "MarkOverride",
    "PlannedTune",
    "ProgrammeRequirement",
    "Quiz",
    "SignOff",
    "Step",
    "Submission",
]
