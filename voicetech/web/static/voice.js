// The microphone of this tab, and the prompts that are played in it.

import { openSound } from "./sound_in.js";

const QUIET_AFTER_MS = 4000;
/** A microphone hears at least its own noise; one that is muted gives nothing, or a last bit of it. */
const QUIET_PEAK = 0.00005;
const NO_MICROPHONE = {
  NotAllowedError:
    "The microphone was not allowed. Allow it for this page beside the address, then turn it on again. Typing works.",
  NotFoundError: "No microphone was found. Plug one in, then turn it on again. Typing works.",
  OverconstrainedError: "No microphone was found. Plug one in, then turn it on again. Typing works.",
  NotReadableError:
    "The microphone cannot be read: another program may have it. Close that one, then turn it on again. Typing works.",
};
const GONE = "The microphone is gone. Plug it in and turn it on again. Typing works.";

/** Hears for the program; `send` and `sendSound` say what it heard, `show(state)` how it stands. */
export class Microphone {
  constructor({ send, sendSound, show, level, trouble }) {
    this.send = send;
    this.sendSound = sendSound;
    this.show = show;
    this.level = level;
    this.trouble = trouble;
    this.wish = null;
    this.stream = null;
    this.sound = null;
    this.flows = false;
    this.confirmed = false;
    this.state = "off";
    this.lastSound = 0;
  }

  get isWanted() {
    return this.wish !== null;
  }

  /** Turn it on; `wish` has `keep`, `headset` and `press` as the program wants them. */
  async begin(wish) {
    this.end();
    this.trouble("");
    if (!navigator.mediaDevices?.getUserMedia || !(window.MediaStreamTrackProcessor || window.AudioWorkletNode)) {
      this.trouble("This browser gives a page no microphone. Use another one, or go on by typing.");
      return;
    }
    this.wish = wish;
    this.stand("starting");
    try {
      const stream = await navigator.mediaDevices.getUserMedia({
        audio: { echoCancellation: true, noiseSuppression: false, autoGainControl: true, channelCount: 1 },
      });
      if (this.wish !== wish) {
        for (const track of stream.getTracks()) track.stop();
        return;
      }
      this.stream = stream;
      const [track] = stream.getAudioTracks();
      track.addEventListener("ended", () => { if (this.stream === stream) this.lost(GONE); });
      const sound = await openSound(stream, {
        heard: (data) => { if (this.stream === stream) this.heard(data); },
        look: () => this.look(),
        otherRate: () => { if (this.stream === stream) this.begin(this.wish); },
      });
      if (this.wish !== wish) {
        sound.end();
        return;
      }
      this.sound = sound;
      this.lastSound = performance.now();
      this.listen();
      this.look();
    } catch (error) {
      if (this.wish !== wish) return;
      this.lost(NO_MICROPHONE[error.name] ?? `The microphone cannot be used (${error.message}). Go on by typing.`);
    }
  }

  /** Tell the program what follows; again after each new connection. */
  listen() {
    if (!this.sound) return;
    this.confirmed = false;
    this.stand("starting");
    this.flows = this.send({ kind: "listen", rate_hz: this.sound.rateHz, ...this.wish });
    // What was agreed is on record from here on, and is not asked twice.
    if (this.flows) this.wish = { ...this.wish, keep: null };
  }

  /** The connection is gone: what is said now would be lost, and is not sent. */
  cut() {
    this.flows = false;
    if (this.isWanted) this.stand("cut");
  }

  heard({ block, peak }) {
    const now = performance.now();
    if (peak > QUIET_PEAK) {
      if (this.lastSound < now - QUIET_AFTER_MS) this.trouble("");
      this.lastSound = now;
    } else if (this.lastSound < now - QUIET_AFTER_MS && this.lastSound > 0) {
      this.trouble("No sound comes from the microphone. Is it muted?");
    }
    this.level(peak);
    if (this.flows) this.sendSound(block);
  }

  /** A browser may hold sound back, after sleep or before a press. */
  look() {
    this.show(this.state, this.sound?.isHeld ?? false);
  }

  goOn() {
    this.sound?.goOn();
  }

  /** Take what the program says of this microphone. */
  told(state) {
    if (state === "starting" || state === "on") {
      if (!this.isWanted || !this.sound) {
        // It listens for a microphone that this tab has turned off already.
        this.send({ kind: "quiet" });
        return;
      }
      this.confirmed = true;
      this.stand(state);
      return;
    }
    if (state === "elsewhere" || (this.isWanted && this.confirmed)) this.end();
    if (!this.isWanted) this.stand(state);
  }

  lost(why) {
    this.send({ kind: "quiet" });
    this.end();
    this.trouble(why);
  }

  stop() {
    this.send({ kind: "quiet" });
    this.trouble("");
    this.end();
  }

  end() {
    this.sound?.end();
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    this.wish = this.stream = this.sound = null;
    this.flows = false;
    this.confirmed = false;
    this.level(0);
    this.stand("off");
  }

  stand(state) {
    this.state = state;
    this.look();
  }
}

/** Plays the prompts, one at a time; `said(nr, why it failed)` is called once for each. */
export class Player {
  constructor({ said, held }) {
    this.said = said;
    this.held = held;
    this.sound = new Audio();
    this.nr = null;
    this.address = "";
    this.sound.addEventListener("ended", () => this.over());
    this.sound.addEventListener("error", () => { if (this.nr !== null) this.over("the sound could not be read"); });
  }

  play(nr, bytes) {
    this.hush();
    this.nr = nr;
    URL.revokeObjectURL(this.address);
    this.address = URL.createObjectURL(new Blob([bytes], { type: "audio/wav" }));
    this.sound.src = this.address;
    this.sound.play().then(
      () => this.held(false),
      (error) => {
        if (this.nr !== nr || error.name === "AbortError") return;
        if (error.name === "NotAllowedError") this.held(true);
        this.over(error.name === "NotAllowedError" ? "the browser wants a press first" : error.message);
      },
    );
  }

  /** After a press the browser lets sound through: play what it held back. */
  allow() {
    this.held(false);
    this.sound.play().catch(() => this.held(true));
  }

  hush() {
    this.sound.pause();
    this.over();
  }

  over(failed) {
    const nr = this.nr;
    this.nr = null;
    if (nr !== null) this.said(nr, failed);
  }
}
