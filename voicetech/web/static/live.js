// The connection to the program: opened again by itself, and never a message sent into nothing.

const WAITS_MS = [300, 700, 1500, 3000, 5000];

export class Live {
  /** `on` has `opened()`, `closed()`, `message(object)` and `sound(bytes, message before it)`. */
  constructor(address, on) {
    this.address = address;
    this.on = on;
    this.socket = null;
    this.tries = 0;
    this.wait = 0;
    this.ended = false;
    this.before = null;
    // A laptop that wakes up should not wait out a pause that began before it slept.
    addEventListener("online", () => this.hurry());
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.hurry(); });
  }

  get isOpen() {
    return this.socket?.readyState === WebSocket.OPEN;
  }

  open() {
    clearTimeout(this.wait);
    this.ended = false;
    const socket = new WebSocket(this.address);
    socket.binaryType = "arraybuffer";
    this.socket = socket;
    this.before = null;
    socket.addEventListener("open", () => {
      if (socket !== this.socket) return;
      this.on.opened();
    });
    socket.addEventListener("message", (event) => {
      if (socket !== this.socket) return;
      // A program that lets a page in and says nothing is not there.
      this.tries = 0;
      if (typeof event.data === "string") {
        const message = JSON.parse(event.data);
        this.before = message;
        this.on.message(message);
      } else {
        this.on.sound(event.data, this.before);
      }
    });
    socket.addEventListener("close", () => {
      if (socket !== this.socket) return;
      this.socket = null;
      this.on.closed();
      if (!this.ended) {
        this.wait = setTimeout(() => this.open(), WAITS_MS[Math.min(this.tries, WAITS_MS.length - 1)]);
        this.tries += 1;
      }
    });
  }

  /** Open it now where it waits for its next try. */
  hurry() {
    if (!this.ended && this.socket === null) this.open();
  }

  /** Leave it closed until `open`. */
  end() {
    this.ended = true;
    clearTimeout(this.wait);
    this.socket?.close();
  }

  /** Return whether it was sent. */
  send(message) {
    if (!this.isOpen) return false;
    this.socket.send(JSON.stringify(message));
    return true;
  }

  /** Sound that cannot leave in time is late sound: it is dropped, and the program is told nothing wrong. */
  sendSound(block) {
    if (this.isOpen && this.socket.bufferedAmount < 500_000) this.socket.send(block);
  }
}
