"""The speech model run step by step: sound to hidden frames, and hypotheses to next-token log probabilities.

Knows nothing of grammars. Loads its sessions on first use and keeps one of each.
"""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from voicetech.hearing.quiet_runtime import onnxruntime as ort
from voicetech.hearing.weights import Weights

Floats = NDArray[np.float32]

LAYERS = 6
HEADS = 8
HEAD_SIZE = 36
BEGIN = 1
END = 2
FIRST_TEXT_TOKEN = 3
"""Tokens below this one are unknown, begin and end."""
ENCODER_THREADS = 2
DECODER_THREADS = 1
"""A step of the decoder is so short that waking a second thread costs more than it saves."""
_SPACE = "\u2581".encode()
_MARGIN = 128
"""A token length byte from here on is followed by a second one."""


def read_tokens(path: Path) -> list[str]:
    """Return the text of every token, a word start written as a space.

    The file is a list of length-prefixed byte strings: one length byte below 128, else two
    (low seven bits first).
    """
    data, at, texts = path.read_bytes(), 0, []
    while at < len(data):
        length = data[at]
        at += 1
        if length >= _MARGIN:
            length = data[at] * _MARGIN + length - _MARGIN
            at += 1
        texts.append(data[at : at + length].replace(_SPACE, b" ").decode("utf-8", "replace"))
        at += length
    return texts


class Rows:
    """One row of numbers, handed out as often as a batch has hypotheses.

    The repeated rows are kept: copying the sound's keys and values at every step would cost more than some steps do.
    """

    def __init__(self, row: NDArray[np.generic]) -> None:
        self._row = row
        self._rows = row

    def __call__(self, count: int) -> NDArray[np.generic]:
        """Return (count, ...), the same row each time; not to be written to."""
        if len(self._rows) < count:
            self._rows = np.repeat(self._row, count, axis=0)
        return self._rows[:count]


@dataclass(frozen=True, slots=True)
class Encoded:
    """One utterance's hidden frames (1, frames, 288), and the mask (1, samples) that says all of it is sound."""

    hidden: Rows
    mask: Rows
    frames: int


@dataclass(frozen=True, slots=True)
class Memory:
    """The decoder's keys and values of a batch of hypotheses, one row each; the encoder's part is one row."""

    own: tuple[Floats, ...]
    sound: tuple[Rows, ...]
    encoded: Encoded


class SpeechModel:
    """Encoder and decoder over onnxruntime, two threads at most."""

    def __init__(self, weights: Weights) -> None:
        self._weights = weights

    @cached_property
    def tokens(self) -> list[str]:
        """The text of every token."""
        return read_tokens(self._weights.tokenizer)

    @cached_property
    def _encoder(self) -> ort.InferenceSession:
        return _session(self._weights.encoder, ENCODER_THREADS)

    @cached_property
    def _decoder(self) -> ort.InferenceSession:
        return _session(self._weights.decoder, DECODER_THREADS)

    @cached_property
    def _outputs(self) -> list[str]:
        own = [f"present.{n}.decoder.{what}" for n in range(LAYERS) for what in ("key", "value")]
        return ["logits", *own]

    def encode(self, samples: Floats) -> Encoded:
        """Return the hidden frames of mono 16 kHz float32 sound."""
        mask = np.ones((1, len(samples)), np.int64)
        (hidden,) = self._encoder.run(["last_hidden_state"], {"input_values": samples[None], "attention_mask": mask})
        return Encoded(Rows(hidden), Rows(mask), hidden.shape[1])

    def begin(self, encoded: Encoded) -> tuple[Floats, Memory]:
        """Return log probabilities (1, tokens) of the first token, and the memory to go on from."""
        feed = self._feed(encoded, np.array([[BEGIN]], np.int64), cached=False)
        for layer in range(LAYERS):
            for part, length in (("decoder", 0), ("encoder", encoded.frames)):
                for what in ("key", "value"):
                    feed[f"past_key_values.{layer}.{part}.{what}"] = np.zeros((1, HEADS, length, HEAD_SIZE), np.float32)
        sound = [f"present.{n}.encoder.{what}" for n in range(LAYERS) for what in ("key", "value")]
        logits, *present = self._decoder.run([*self._outputs, *sound], feed)
        count = 2 * LAYERS
        return log_softmax(logits[:, -1]), Memory(tuple(present[:count]), tuple(map(Rows, present[count:])), encoded)

    def extend(self, memory: Memory, parents: list[int], tokens: list[int]) -> tuple[Floats, Memory]:
        """Return log probabilities (rows, tokens) after each hypothesis `parents[i]` took `tokens[i]`."""
        rows = len(tokens)
        feed = self._feed(memory.encoded, np.array(tokens, np.int64)[:, None], cached=True)
        for at in range(2 * LAYERS):
            layer, what = divmod(at, 2)
            name = ("key", "value")[what]
            feed[f"past_key_values.{layer}.decoder.{name}"] = memory.own[at][parents]
            feed[f"past_key_values.{layer}.encoder.{name}"] = memory.sound[at](rows)
        logits, *present = self._decoder.run(self._outputs, feed)
        return log_softmax(logits[:, -1]), Memory(tuple(present), memory.sound, memory.encoded)

    def _feed(self, encoded: Encoded, ids: NDArray[np.int64], *, cached: bool) -> dict[str, NDArray[np.generic]]:
        rows = len(ids)
        return {
            "input_ids": ids,
            "encoder_hidden_states": encoded.hidden(rows),
            # The graph strides this mask by 384: its length is counted in samples, not frames.
            "encoder_attention_mask": encoded.mask(rows),
            "use_cache_branch": np.array([cached]),
        }


def log_softmax(logits: Floats) -> Floats:
    """Return the logarithm of each row's softmax."""
    highest = logits.max(axis=1, keepdims=True)
    shifted: Floats = logits - highest
    spread: Floats = np.log(np.exp(shifted).sum(axis=1, keepdims=True))
    return shifted - spread


def _session(path: Path, threads: int) -> ort.InferenceSession:
    options = ort.SessionOptions()
    options.intra_op_num_threads = threads
    options.inter_op_num_threads = 1
    # Spinning threads take the processor from the voice and the screen between steps.
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    options.log_severity_level = 3
    return ort.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
