// The conversation: lines as they come, the newest at the bottom.

const PROGRAM = {
  "said back": "read back",
  verdict: "verdict",
  meaning: "what it means",
  caution: "caution",
  prompt: "to do",
  question: "question",
  help: "help",
  "not now": "not now",
  danger: "danger",
  record: "on record",
};
const NEAR_PX = 60;

const wordFor = ({ who, kind }) => {
  if (who === "technician") return kind === "spoken" ? "you" : `you, ${kind}`;
  if (who === "overheard") return "heard, not taken";
  return PROGRAM[kind] ?? "program";
};
const clock = (at_s) => new Date(at_s * 1000).toLocaleTimeString([], { hour: "numeric", minute: "2-digit" });

const lineOf = (line) => {
  const row = document.createElement("div");
  row.className = `line ${line.who}`;
  row.dataset.kind = line.kind;
  row.dataset.nr = line.nr;
  const label = document.createElement("span");
  label.className = "label";
  label.textContent = wordFor(line);
  const when = document.createElement("time");
  when.dateTime = new Date(line.at_s * 1000).toISOString();
  when.textContent = clock(line.at_s);
  const words = document.createElement("p");
  words.dir = "auto";
  words.textContent = line.text;
  row.append(label, " ", when, words);
  return row;
};

export class Conversation {
  constructor(log, toNewest) {
    this.log = log;
    this.toNewest = toNewest;
    this.newest = 0;
    this.shown = new Set();
    this.follows = true;
    this.height = 0;
    log.addEventListener("scroll", () => {
      if (log.clientHeight === this.height) this.follows = this.isAtEnd();
      if (this.isAtEnd()) toNewest.hidden = true;
    });
    // Turned, or larger letters: who read the newest line still does.
    new ResizeObserver(() => {
      this.height = log.clientHeight;
      if (this.follows) this.scroll();
    }).observe(log);
    toNewest.addEventListener("click", () => {
      this.scroll();
      log.focus({ preventScroll: true });
    });
  }

  isAtEnd() {
    return this.log.scrollHeight - this.log.scrollTop - this.log.clientHeight < NEAR_PX;
  }

  scroll() {
    this.log.scrollTop = this.log.scrollHeight;
    this.follows = true;
    this.toNewest.hidden = true;
  }

  /** Show these lines, those that were not shown before, or with `afresh` nothing but them; return what is new. */
  take(lines, afresh) {
    const stays = !this.follows && !this.isAtEnd() && this.shown.size > 0;
    const fresh = lines.filter((line) => !this.shown.has(`${line.nr}.${line.part}`));
    if (afresh) {
      this.shown.clear();
      this.log.replaceChildren(...lines.map(lineOf));
    } else {
      this.log.append(...fresh.map(lineOf));
    }
    for (const line of lines) {
      this.shown.add(`${line.nr}.${line.part}`);
      this.newest = Math.max(this.newest, line.nr);
    }
    if (stays) this.toNewest.hidden = fresh.length === 0;
    else this.scroll();
    return fresh;
  }
}
