"""The audit room: replays the ordered cuts, recounts every claim, rechecks the certificate.

It shares no code with the packer or the bench.
"""

from .check import audit_plan, find_faults, verify_plan
from .facts import Areas, AuditedPlan, BoardFacts, LayoutFacts, LeftoverCount, SourceUse
from .findings import CODES, Finding

__all__ = [
    "CODES",
    "Areas",
    "AuditedPlan",
    "BoardFacts",
    "Finding",
    "LayoutFacts",
    "LeftoverCount",
    "SourceUse",
    "audit_plan",
    "find_faults",
    "verify_plan",
]
