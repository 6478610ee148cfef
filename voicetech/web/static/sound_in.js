// Sound of a microphone as blocks of 16-bit samples, at the rate it comes in.

const BLOCK_S = 0.03;
const FULL_SCALE = 32767;
/** Pieces of 10 ms that wait while the page is busy; more than that and the oldest are lost. */
const PIECES_WAITING = 1000;
/** A track that has brought nothing for so long is read the other way, which tells silence from nothing. */
const FIRST_WITHIN_MS = 1000;

/**
 * Open the sound of a stream; `heard({block, peak})` is called for each block from now on, `look()` when the browser
 * holds the sound back or lets it go, `otherRate()` when what comes next has another rate. Returns what it was opened
 * as: `rateHz`, `isHeld`, `goOn()` and `end()`.
 *
 * A track that can be read is read as it is. Through an AudioContext sound runs by the clock of the loudspeaker: it
 * stands still without one or before a press, and loses pieces where the two clocks part.
 */
export async function openSound(stream, { heard, look, otherRate }) {
  const read = window.MediaStreamTrackProcessor ? await readTrack(stream, heard, otherRate) : null;
  return read ?? runContext(stream, heard, look);
}

/** Return the sound of the track, or null where it brings none. */
async function readTrack(stream, heard, otherRate) {
  const [track] = stream.getAudioTracks();
  const reader = new MediaStreamTrackProcessor({ track, maxBufferSize: PIECES_WAITING }).readable.getReader();
  const late = new Promise((over) => { setTimeout(over, FIRST_WITHIN_MS, { done: true }); });
  const first = await Promise.race([reader.read(), late]);
  if (first.done) {
    reader.cancel().catch(() => {});
    return null;
  }
  const rateHz = first.value.sampleRate;
  const blocks = new Blocks(rateHz, heard);
  const readOn = async () => {
    for (let piece = first; !piece.done; piece = await reader.read()) {
      if (piece.value.sampleRate !== rateHz) {
        piece.value.close();
        otherRate();
        return;
      }
      blocks.add(mono(piece.value));
      piece.value.close();
    }
  };
  // The end of the track is told by the track itself.
  readOn().catch(() => {});
  return { rateHz, isHeld: false, goOn() {}, end: () => { reader.cancel().catch(() => {}); } };
}

function mono(piece) {
  const sum = new Float32Array(piece.numberOfFrames);
  const one = new Float32Array(piece.numberOfFrames);
  for (let planeIndex = 0; planeIndex < piece.numberOfChannels; planeIndex += 1) {
    piece.copyTo(one, { planeIndex, format: "f32-planar" });
    for (let at = 0; at < sum.length; at += 1) sum[at] += one[at] / piece.numberOfChannels;
  }
  return sum;
}

async function runContext(stream, heard, look) {
  const context = new AudioContext({ latencyHint: "interactive" });
  try {
    await context.audioWorklet.addModule(new URL("capture.js", import.meta.url));
  } catch (error) {
    context.close().catch(() => {});
    throw error;
  }
  const node = new AudioWorkletNode(context, "capture", { channelCount: 1, channelCountMode: "explicit" });
  const blocks = new Blocks(context.sampleRate, heard);
  node.port.onmessage = ({ data }) => blocks.add(data);
  context.createMediaStreamSource(stream).connect(node).connect(context.destination);
  context.addEventListener("statechange", look);
  return {
    rateHz: Math.round(context.sampleRate),
    get isHeld() { return context.state !== "running" && context.state !== "closed"; },
    goOn() { context.resume(); },
    end() {
      node.port.postMessage("end");
      context.close().catch(() => {});
    },
  };
}

/** Fills blocks of one length with whatever pieces come. */
class Blocks {
  constructor(rateHz, heard) {
    this.length = Math.round(rateHz * BLOCK_S);
    this.heard = heard;
    this.begin();
  }

  begin() {
    this.block = new Int16Array(this.length);
    this.filled = 0;
    this.peak = 0;
  }

  add(samples) {
    for (const sample of samples) {
      const kept = Math.max(-1, Math.min(1, sample));
      this.peak = Math.max(this.peak, Math.abs(kept));
      this.block[this.filled] = Math.round(kept * FULL_SCALE);
      this.filled += 1;
      if (this.filled === this.length) {
        this.heard({ block: this.block.buffer, peak: this.peak });
        this.begin();
      }
    }
  }
}
