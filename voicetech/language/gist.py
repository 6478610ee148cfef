"""What of a meaning is acted on, apart from its doubts and remarks."""

from collections.abc import Hashable

from voicetech.language.meaning import AnswerSaid, CommandSaid, CorrectionSaid, Meaning, ReadingSaid, StateSaid


def gist(meaning: Meaning) -> Hashable:
    """Return what two readings, states, answers, requests or corrections have in common when they mean the same.

    Flags, rivals and doubts are left out; other meanings are their own gist.
    """
    match meaning:
        case ReadingSaid(value=value, unit=unit, label=label):
            return "reading", value, unit, label
        case StateSaid(state=state, label=label):
            return "state", state, label
        case AnswerSaid(yes=yes, finding=finding):
            return "answer", yes, finding
        case CommandSaid(command=command, argument=argument):
            return "command", command, argument
        case CorrectionSaid(replacement=replacement):
            return "correction", None if replacement is None else gist(replacement)
        case _:
            return meaning
