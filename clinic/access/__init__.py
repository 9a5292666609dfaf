"""The one fence in code: lists and single rows are cut by the same filter, made from one table."""

from clinic.access.assurance import PIN_ACTIONS, Assurance
from clinic.access.gate import get, permit, reach, reach_of, scoped
from clinic.access.policy import POLICY, Action
from clinic.access.scope import Scope

__all__ = ["PIN_ACTIONS", "POLICY", "Action", "Assurance", "Scope", "get", "permit", "reach", "reach_of", "scoped"]
