"""The spoken grammars in open standards, as the files in `grammars/exported` that other recognisers can load."""

from voicetech.language.export import export_jsgf, export_srgs
from voicetech.language.grammar import spoken_grammar
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import Asking, Question

EXPORTED = {
    "measurement": Question(Asking.VOLTAGE),
    "read-back": Question(Asking.VOLTAGE, after_read_back=True),
    "temperature": Question(Asking.TEMPERATURE),
    "inspection": Question(Asking.INSPECTION),
    "yes-no": Question(Asking.YES_NO),
    "serial": Question(Asking.SERIAL),
}
"""A question for each grammar that differs. Volts, ohms, amps, watts and continuity share one: the question sets the
unit that is meant, never what may be said."""


def exported(lexicon: Lexicon) -> dict[str, str]:
    """Return the text of each file by its name: JSGF 1.0 (.jsgf) and SRGS 1.0 in XML (.grxml).

    Source: JSpeech Grammar Format, W3C Note 5 June 2000; Speech Recognition Grammar Specification 1.0, W3C 2004.
    """
    files = {}
    for name, question in EXPORTED.items():
        phrase = spoken_grammar(question, lexicon)
        files[f"{name}.jsgf"] = export_jsgf(phrase, name)
        files[f"{name}.grxml"] = export_srgs(phrase, name)
    return files
