"""What was asked, answered, marked, reviewed, and what it adds up to."""
from .assign import Assignment, ProgrammeRequirement, Quiz, Step
from .attempts import Answer, AnswerHistory, Attempt, Mark, Submission
from .plan import PlannedTune
from .record import Evidence, Listening, SignOff
from .review import Comment, MarkOverride

__all__ = [
    "Answer", "AnswerHistory", "Assignment", "Attempt", "Comment", "Evidence", "Listening", "Mark",
    "MarkOverride", "PlannedTune", "ProgrammeRequirement", "Quiz", "SignOff", "Step", "Submission",
]
