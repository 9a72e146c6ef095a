"""The audit room: replays a plan's cuts, recounts its claims, rechecks its bound."""

from .facts import Areas, AuditedPlan, BoardFacts, LayoutFacts, LeftoverCount, SourceUse

__all__ = ["Areas", "AuditedPlan", "BoardFacts", "LayoutFacts", "LeftoverCount", "SourceUse"]
