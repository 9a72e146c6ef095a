"""The aftermath room: what lies on the bench in the middle of a job, and the rest planned again."""

from .resume import Idle, Resumed, SetBack, resume_plan
from .said import SheetTale, tales_of

__all__ = ["Idle", "Resumed", "SetBack", "SheetTale", "resume_plan", "tales_of"]
