"""Statuses with their reasons."""


class SkillStatus: ...


def statuses(fold, moment):
    return {}
