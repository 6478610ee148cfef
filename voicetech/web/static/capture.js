// Runs beside the page: makes blocks of 16-bit sound of what the microphone brings, at the rate it comes in.

const BLOCK_S = 0.03;
const BLOCK = Math.round(sampleRate * BLOCK_S);
const FULL_SCALE = 32767;

class Capture extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Int16Array(BLOCK);
    this.filled = 0;
    this.peak = 0;
    this.on = true;
    this.port.onmessage = () => { this.on = false; };
  }

  process(inputs) {
    const channel = inputs[0][0];
    if (channel) {
      for (const sample of channel) {
        const held = Math.max(-1, Math.min(1, sample));
        this.peak = Math.max(this.peak, Math.abs(held));
        this.block[this.filled] = Math.round(held * FULL_SCALE);
        this.filled += 1;
        if (this.filled === this.block.length) this.post();
      }
    }
    return this.on;
  }

  post() {
    const whole = this.block.buffer;
    this.port.postMessage({ block: whole, peak: this.peak }, [whole]);
    this.block = new Int16Array(BLOCK);
    this.filled = 0;
    this.peak = 0;
  }
}

registerProcessor("capture", Capture);
