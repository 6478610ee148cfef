"""The voice in the background: what it leaves in the microphone."""

from voicetech.speaking.background import BackgroundVoice
from voicetech.speaking.silent_speaker import SilentSpeaker


def test_a_voice_that_nobody_hears_leaves_no_echo() -> None:
    voice = BackgroundVoice(SilentSpeaker(), lambda: 1.0)
    voice.say("Measure leg to leg.", tone=True)
    assert voice.words_during(0.0, 5.0) == ""
    voice.wait()
    voice.close()
