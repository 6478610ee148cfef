// Runs beside the page, on the sound: hands on what the microphone brings, some pieces at a time.

const PIECE = 1024;

class Capture extends AudioWorkletProcessor {
  constructor() {
    super();
    this.piece = new Float32Array(PIECE);
    this.filled = 0;
    this.on = true;
    this.port.onmessage = () => { this.on = false; };
  }

  process(inputs) {
    const channel = inputs[0][0];
    if (channel) {
      for (const sample of channel) {
        this.piece[this.filled] = sample;
        this.filled += 1;
        if (this.filled === PIECE) this.post();
      }
    }
    return this.on;
  }

  post() {
    this.port.postMessage(this.piece, [this.piece.buffer]);
    this.piece = new Float32Array(PIECE);
    this.filled = 0;
  }
}

registerProcessor("capture", Capture);
