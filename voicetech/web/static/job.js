// The page of one job: shows what the program says stands open, and sends what the technician answers.

import "./theme.js";
import { Conversation } from "./conversation.js";
import { bandOf, sketchOf } from "./drawing.js";
import { Live } from "./live.js";
import { Microphone, Player } from "./voice.js";

const byId = (id) => document.getElementById(id);
const body = document.body;
const field = byId("field");
const dialogs = [byId("consent"), byId("tests-dialog")];
const byTouch = matchMedia("(pointer: coarse)");
/** Lost for about six seconds by then. */
const TRIES_BEFORE_HELP = 4;
const STOPPED_WITHIN_MS = 1500;

let view = null;
let key = "";
let here = false;
let joined = false;
/** What stood open when the text in the field was begun, and the prompt it was begun for. */
let begunFor = { key: "", prompt: "" };
/** What was sent and is not in the conversation yet. */
let onItsWay = null;
let mode = "";
let stopOwed = false;
let aloud = false;
let toldPrompt = false;
let toldOfPrompt = "";

// What is shown is changed only where it differs, so that focus and screen readers are left in peace.

const put = (element, text) => {
  if (element.textContent !== text) element.textContent = text;
};
const show = (element, is) => {
  if (element.hidden === is) element.hidden = !is;
};
const filled = new WeakMap();
const fill = (element, items, make) => {
  const as = JSON.stringify(items);
  if (filled.get(element) === as) return false;
  filled.set(element, as);
  const had = element.contains(document.activeElement);
  for (const child of [...element.children]) if (child.localName !== "legend") child.remove();
  element.append(...items.map(make));
  if (had) toField();
  return true;
};
const made = (name, className, ...inside) => {
  const element = document.createElement(name);
  if (className) element.className = className;
  element.append(...inside);
  return element;
};
const bdi = (text) => made("bdi", "", text);
const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
const clock = (at_s) => new Date(at_s * 1000).toLocaleTimeString([], { hour: "numeric", minute: "2-digit" });
const say = (region, ...texts) => {
  if (texts.length) region.replaceChildren(...texts.map((text) => made("p", "", text)));
};

/** Put the focus where the next answer is typed; on a touch screen that would bring up its keyboard. */
const toField = () => {
  if (byTouch.matches) byId("prompt").focus({ preventScroll: true });
  else field.focus({ preventScroll: true });
};

// The connection.

const address = new URL("live", location.href);
address.protocol = address.protocol === "https:" ? "wss:" : "ws:";

const live = new Live(address, {
  opened() {
    joined = false;
    if (stopOwed) live.send({ kind: "stop" });
    put(byId("connection"), "Connected. Waiting for the job…");
  },
  closed() {
    microphone.cut();
    player.hush();
    standAway();
  },
  message(message) {
    takers[message.kind]?.(message);
  },
  sound(bytes, before) {
    if (before?.kind === "say") player.play(before.nr, bytes);
  },
});

const takers = {
  view: (message) => takeView(message),
  lines: (message) => takeLines(message),
  listening: (message) => takeListening(message),
  told: ({ text }) => tell(text),
  say: () => {},
  hush: () => player.hush(),
  error: (message) => takeError(message),
  ended: ({ text }) => takeEnd(text),
};

const standAway = () => {
  body.dataset.link = "away";
  if (live.ended) put(byId("connection"), "Not connected");
  else put(byId("connection"), "Connection lost. Trying again…");
  if (!live.ended && live.tries >= TRIES_BEFORE_HELP && byId("ended").hidden) tellLost();
  if (onItsWay) onItsWay.doubted = true;
  showEnabled();
  showSafety();
};

/** A program that was started again is at another address: waiting alone may never end. */
const tellLost = () => {
  put(byId("ended-title"), "The program does not answer");
  put(byId("ended-why"), "It may have been stopped. This page goes on trying.");
  show(byId("ended"), true);
};

const takeEnd = (text) => {
  live.end();
  microphone.end();
  player.hush();
  put(byId("ended-title"), "The program has left this job");
  put(byId("ended-why"), text);
  show(byId("ended"), true);
  standAway();
};

const goOn = () => {
  const address = { key, prompt: view?.prompt ?? "" };
  if (!field.value || begunFor.prompt === address.prompt) begunFor = address;
};

// What stands open.

const takeView = (message) => {
  const first = !joined;
  const before = view;
  ({ view, open: key, here } = message);
  joined = true;
  body.dataset.link = "there";
  body.dataset.turn = view.turn;
  put(byId("connection"), view.turn === "closed" ? "On record. The job is closed." : "On record");
  show(byId("ended"), false);
  if (view.turn === "stopped") stopIsTaken();
  goOn();
  if (first) joinAgain();
  showNow(before);
  showSafety();
  showWhere();
  showLimit();
  showReadings();
  showBelief();
  showWay();
  showReplied();
  showEnabled();
  announcePrompt();
};

/** After a new connection: what was on its way and did not come to be on record is given back. */
const joinAgain = () => {
  if (onItsWay?.doubted) {
    giveBack(onItsWay.text, "This was sent when the connection was lost, and is not on record. Look at it and send it again.");
    onItsWay = null;
  }
  if (aloud && !microphone.isWanted) live.send({ kind: "aloud", on: true });
  if (!microphone.isWanted) return;
  if (here && view.turn !== "closed") microphone.listen();
  else microphone.stop();
};

const sentences = (text) => {
  const parts = text.split(/(?<=[.?!]) /);
  return parts.map((part, nr) => made("span", "", nr < parts.length - 1 ? `${part} ` : part));
};

const showNow = (before) => {
  put(byId("appliance"), view.appliance);
  document.title = `${view.turn === "stopped" ? "Stopped: " : ""}${view.prompt.split(/[.?]/)[0]} (job ${view.job})`;
  const prompt = byId("prompt");
  if (prompt.textContent !== view.prompt) {
    if (view.turn === "stopped") prompt.replaceChildren(...sentences(view.prompt));
    else prompt.textContent = view.prompt;
  }
  show(byId("step"), view.step !== "" && view.turn !== "stopped");
  put(byId("step"), view.step ? `The step that is open: ${view.step}` : "");
  fill(byId("cautions"), view.cautions, (caution) =>
    made("li", `caution ${caution.signal}`, made("strong", "", caution.signal.toUpperCase()), " ", bdi(caution.say)));
  put(byId("unit"), view.unit);
  show(byId("unit"), view.unit !== "" && mode !== "note");
  const stopped = view.turn === "stopped";
  show(byId("clear-words"), stopped);
  fill(byId("answers"), view.answers.map((each) => ({ ...each, keyed: !stopped })), quickButton);
  fill(byId("requests"), view.requests, (each) => button(capital(each.label), () => sendQuick(each.say)));
  fill(byId("tests-list"), view.tests, (test) =>
    made("li", "", button(capital(test.title), () => {
      closeDialog();
      sendQuick(test.say);
    }, test.done ? "done" : "")));
  put(byId("correct-what"), view.correctable);
  show(byId("correct"), view.correctable !== "");
  show(byId("tests"), view.tests.length > 0);
  show(byId("closed"), view.turn === "closed");
  if (mode === "correct" && view.correctable === "") setMode("");
  if (stopped && before?.turn !== "stopped") {
    setMode("");
    closeDialog();
    scrollTo({ top: 0 });
    toField();
  }
};

const button = (words, press, mark = "") => {
  const made_ = made("button", "", bdi(words));
  made_.type = "button";
  if (mark) made_.append(" ", made("small", "", mark));
  made_.addEventListener("click", press);
  return made_;
};

const quickButton = ({ label, say: words, keyed }, nr) => {
  const made_ = button(label, () => sendQuick(words), keyed && nr < 9 ? `Alt+${nr + 1}` : "");
  if (keyed && nr < 9) made_.setAttribute("aria-keyshortcuts", `Alt+${nr + 1}`);
  made_.dataset.say = words;
  return made_;
};

const showEnabled = () => {
  const there = body.dataset.link === "there";
  const open = there && here && view !== null && view.turn !== "closed";
  const closed = view?.turn === "closed";
  byId("answers").disabled = !open;
  byId("requests").disabled = !open;
  byId("changes").disabled = !open;
  byId("send").disabled = !open;
  byId("take-up").disabled = !there;
  byId("talk").disabled = !open;
  byId("mic").disabled = !open && !microphone.isWanted;
  byId("aloud").disabled = !there || closed;
  show(byId("take-up-area"), view !== null && !here && !closed);
  show(byId("answer-form"), view === null || (here && !closed));
  show(byId("answers"), (view?.answers.length ?? 0) > 0 && here);
  show(byId("voice"), !closed && (view === null || here));
  show(byId("ask-area"), here && (view?.requests.length ?? 0) > 0);
  show(byId("clear-words"), view?.turn === "stopped" && here);
};

const SAFETY = { dead: "Proved dead", isolated: "Not proved dead", live: "Live", unknown: "Not known" };

/** The power, in words; where it is not known now, plainly so. */
const showSafety = () => {
  const strip = byId("safety");
  const told = (state, word, says, until = "") => {
    strip.dataset.state = state;
    put(byId("safety-word"), word);
    put(byId("safety-says"), says);
    put(byId("safety-until"), until);
  };
  if (view === null || body.dataset.link === "away") {
    told("unknown", "Not known now", "Treat it as live.");
    return;
  }
  const { state, says, until_s } = view.safety;
  if (state !== "dead") {
    told(state, SAFETY[state] ?? "Not known", /as live/.test(says) ? says : `${says} Treat it as live.`);
    return;
  }
  const left_min = Math.floor((until_s - Date.now() / 1000) / 60);
  if (left_min < 0) {
    told("unknown", "Not proved any more", `The proof of dead ran out at ${clock(until_s)}. Treat it as live.`);
    return;
  }
  const left = left_min === 0 ? "less than a minute left" : left_min === 1 ? "1 minute left" : `${left_min} minutes left`;
  told("dead", SAFETY.dead, says, `The proof runs out at ${clock(until_s)}, ${left}.`);
};
setInterval(showSafety, 5000);

const showWhere = () => {
  show(byId("where-area"), view.where.length > 0 || view.sketch !== "");
  fill(byId("where"), view.where, (place) =>
    made("li", "", made("strong", "", bdi(place.label)), " ", made("span", "call", bdi(`“${place.call}”`)), made("p", "", bdi(place.at))));
  const frame = byId("sketch");
  fill(frame, view.sketch ? [view.sketch] : [], (text) => sketchOf(text) ?? "");
  show(frame, frame.childElementCount > 0);
};

const showLimit = () => {
  show(byId("limit-area"), view.limit !== null);
  fill(byId("limit"), view.limit ? [view.limit] : [], ({ says, source, low, high, band }) => {
    const all = made("div", "", made("p", "says", says));
    if (band) all.append(bandOf(band, low, high, ""));
    if (source) all.append(made("p", "note", `From: ${source}`));
    return all;
  });
};

const signOf = (reading) => {
  if (reading.good === true) return "✓";
  if (reading.good === false) return "✗";
  return reading.verdict ? "!" : "";
};

const showReadings = () => {
  show(byId("verdict-area"), view.readings.length > 0);
  const brief = view.readings.length > 2;
  fill(byId("verdict"), view.readings.map((each) => ({ ...each, brief })), (reading) => {
    const sign = signOf(reading);
    const how = { "✓": "good", "✗": "bad", "!": "doubtful", "": "open" }[sign];
    const head = made("p", "reading-head", bdi(reading.label), " ", made("strong", "", bdi(reading.value)), " ");
    const mark = made("span", "sign", sign);
    mark.setAttribute("aria-hidden", "true");
    head.append(made("span", "verdict", mark, sign ? " " : "", capital(reading.verdict) || "Judged with the others"));
    const row = made("li", how, head);
    const told = !reading.brief || reading.good !== true;
    if (told && reading.band) row.append(bandOf(reading.band, reading.low, reading.high, reading.value));
    if (told && reading.reason) row.append(made("p", "reason", bdi(`${capital(reading.reason)}.`)));
    return row;
  });
};

const percent = (share) => (share < 0.01 ? "under 1 %" : `${Math.round(share * 100)} %`);

const showBelief = () => {
  show(byId("belief"), view.suspects.length > 0 || view.ruled_out.length > 0);
  fill(byId("suspects"), view.suspects, ({ says, share, proved }) => {
    const bar = made("span", "share", made("i", ""));
    bar.setAttribute("aria-hidden", "true");
    bar.firstChild.style.width = `${Math.round((proved ? 1 : share) * 100)}%`;
    return made("li", proved ? "proved" : "", bdi(capital(says)), " ", made("span", "of", proved ? "proved" : percent(share)), bar);
  });
  show(byId("because"), view.because.length > 0);
  put(byId("because"), view.because.length ? `What speaks for the first: ${view.because.join("; ")}.` : "");
  show(byId("ruled-out-area"), view.ruled_out.length > 0);
  put(byId("ruled-out-count"), String(view.ruled_out.length));
  fill(byId("ruled-out"), view.ruled_out, (each) => made("li", "", bdi(capital(each))));
};

const STAGES = { done: "done", now: "now", ahead: "ahead" };

const showWay = () => {
  show(byId("way"), view.stages.length > 0);
  fill(byId("stages"), view.stages, ({ name, state }) => {
    const stage = made("li", state, name, " ", made("small", state === "now" ? "" : "hidden", STAGES[state] ?? state));
    if (state === "now") stage.setAttribute("aria-current", "step");
    return stage;
  });
  const at = view.section && view.turn !== "closed" ? [`Now: ${view.section}`] : [];
  fill(byId("ahead"), [...at, ...view.ahead], (each) => made("li", "", bdi(capital(each))));
};

// The conversation.

const conversation = new Conversation(byId("log"), byId("log-newest"));

/** What was answered last, but for what stands elsewhere beside the prompt: the conversation may be out of sight. */
const takeReplied = (fresh) => {
  const since = fresh.findLastIndex(({ who }) => who === "technician");
  const said = fresh.slice(since + 1).filter(({ who, kind }) => who === "program" && !BESIDE_PROMPT.has(kind));
  if (since >= 0) replied = [];
  replied.push(...said.map(({ text }) => text));
  if (view) showReplied();
};
const BESIDE_PROMPT = new Set(["prompt", "caution", "danger"]);
let replied = [];

const showReplied = () => {
  const shown = view.turn === "stopped" ? [] : replied.filter((text) => text !== view.prompt);
  fill(byId("replied"), shown, (text) => made("li", "", bdi(text)));
};

const takeLines = ({ lines, afresh }) => {
  const before = conversation.newest;
  const fresh = conversation.take(lines, afresh);
  if (onItsWay && lines.some(({ who, nr }) => who !== "program" && nr > onItsWay.after)) onItsWay = null;
  takeReplied(fresh);
  if (afresh && before === 0) return;
  const said = fresh.filter(({ who }) => who === "program");
  say(byId("announce-now"), ...said.filter(({ kind }) => kind === "danger").map(({ text }) => text));
  say(byId("announce"), ...said.filter(({ kind }) => kind !== "danger").map(({ text }) => text));
  toldPrompt = said.length > 0;
};

/** A prompt that came without a line of its own is announced by itself. */
const announcePrompt = () => {
  if (view.prompt !== toldOfPrompt && !toldPrompt) say(byId("announce"), view.prompt);
  toldOfPrompt = view.prompt;
  toldPrompt = false;
};

// What is told about the program: it stays until somebody has read it.

const tell = (text, isError = false) => {
  const list = byId("told");
  const same = [...list.children].find((each) => each.dataset.text === text);
  if (same) {
    list.append(same);
    return;
  }
  const row = made("li", isError ? "error" : "", made("strong", "", isError ? "Not done:" : "About the program:"), " ", bdi(text), " ");
  row.dataset.text = text;
  const read = button("Got it", () => {
    row.remove();
    show(byId("told-area"), list.childElementCount > 0);
    toField();
  });
  row.append(read);
  list.append(row);
  show(byId("told-area"), true);
  say(byId(isError ? "announce-now" : "announce"), text);
};

const takeError = ({ text, answer }) => {
  onItsWay = null;
  tell(text, true);
  if (answer) giveBack(answer, "This was not taken. It is back in the field.");
};

/** Put text that was not taken back where it can be sent again. */
const giveBack = (text, why) => {
  if (field.value.trim() === "") {
    field.value = text;
    begunFor = { key, prompt: view?.prompt ?? "" };
    put(byId("field-note"), why);
  } else if (field.value !== text) {
    tell(`${why.split(".")[0]}: ${text}`, true);
  }
};

// Answers.

const NOT_SENT = "Not sent: the program is not reached. It stays here; send it when the connection is back.";
const MODES = {
  note: { word: "A note. It goes on record; the question stays open.", label: () => "Your note", before: "note: " },
  correct: {
    word: "A correction of the last answer.",
    label: () => `Instead of ${view.correctable}`,
    before: "no, ",
  },
};

const setMode = (to) => {
  mode = to;
  const as = MODES[to];
  body.dataset.mode = to;
  show(byId("mode"), as !== undefined);
  put(byId("mode-word"), as?.word ?? "");
  put(byId("field-label"), as?.label() ?? "Your answer");
  show(byId("unit"), Boolean(view?.unit) && to !== "note");
  byId("note").setAttribute("aria-pressed", String(to === "note"));
  byId("correct").setAttribute("aria-pressed", String(to === "correct"));
};

const sendAnswer = (text, open) => {
  const sent = live.isOpen && body.dataset.link === "there" && live.send({ kind: "answer", text, open });
  if (sent) onItsWay = { text, after: conversation.newest, doubted: false };
  return sent;
};

const sendQuick = (words) => {
  if (body.dataset.link !== "there" || !here) return;
  sendAnswer(words, key);
  toField();
};

byId("answer-form").addEventListener("submit", (event) => {
  event.preventDefault();
  const text = field.value.trim();
  if (!text) return;
  if (!here || !sendAnswer((MODES[mode]?.before ?? "") + text, begunFor.key || key)) {
    put(byId("field-note"), NOT_SENT);
    return;
  }
  field.value = "";
  put(byId("field-note"), "");
  setMode("");
  begunFor = { key, prompt: view.prompt };
  field.focus({ preventScroll: true });
});

// A form whose button is off is not sent by Enter either, and says nothing of it.
field.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && byId("send").disabled && field.value.trim()) put(byId("field-note"), NOT_SENT);
});
field.addEventListener("beforeinput", () => {
  if (field.value === "") begunFor = { key, prompt: view?.prompt ?? "" };
});
field.addEventListener("input", () => { if (body.dataset.link === "there") put(byId("field-note"), ""); });

byId("note").addEventListener("click", () => {
  setMode(mode === "note" ? "" : "note");
  field.focus();
});
byId("correct").addEventListener("click", () => {
  setMode(mode === "correct" ? "" : "correct");
  field.focus();
});
byId("mode-leave").addEventListener("click", () => {
  setMode("");
  field.focus();
});
byId("take-up").addEventListener("click", () => {
  live.send({ kind: "take-up" });
  byId("prompt").focus({ preventScroll: true });
});
byId("try-again").addEventListener("click", () => {
  show(byId("ended"), false);
  put(byId("connection"), "Connecting…");
  live.open();
});

// The stop.

let stopDue = 0;

const stop = () => {
  player.hush();
  closeDialog();
  clearTimeout(stopDue);
  stopOwed = true;
  if (!live.send({ kind: "stop" })) {
    stopHere("The program is not reached: this stop is not on record yet. It is sent as soon as the connection is back.");
  } else if (view?.turn !== "stopped") {
    stopDue = setTimeout(() => stopHere("The program has not answered: this stop may not be on record yet."), STOPPED_WITHIN_MS);
  } else {
    stopIsTaken();
  }
};

/** The page stops by itself where the program does not say so. */
const stopHere = (why) => {
  byId("stop-here").replaceChildren(
    made("h2", "", "Stop. Hands off, step back."),
    made("p", "", `${why} Nothing counts as dead.`),
  );
  show(byId("stop-here"), true);
  scrollTo({ top: 0 });
};

const stopIsTaken = () => {
  clearTimeout(stopDue);
  stopOwed = false;
  show(byId("stop-here"), false);
};

byId("stop").addEventListener("click", stop);

// A dialog leaves the stop in reach: only what is behind it waits.

let opener = null;

const openDialog = (dialog) => {
  opener = document.activeElement;
  byId("main").inert = true;
  dialog.show();
  dialog.querySelector("h2").focus();
};

const closeDialog = () => {
  if (!dialogs.some((each) => each.open)) return;
  for (const each of dialogs) each.close();
  byId("main").inert = false;
  if (opener?.isConnected && !opener.disabled) opener.focus();
  else toField();
};

byId("tests").addEventListener("click", () => openDialog(byId("tests-dialog")));
byId("tests-close").addEventListener("click", closeDialog);
byId("consent-cancel").addEventListener("click", closeDialog);
byId("consent-keep").addEventListener("click", () => consented(true));
byId("consent-refuse").addEventListener("click", () => consented(false));

// Voice.

const MIC_WORDS = {
  off: "Microphone off",
  starting: "Microphone is starting…",
  on: "Listening",
  elsewhere: "Another tab has the microphone. Turn it off there first.",
  cut: "Microphone on, but the program is not reached",
};
const HEARD = { speaking: "Somebody speaks:", taken: "Heard:", overheard: "Not for the program:" };

const microphone = new Microphone({
  send: (message) => live.send(message),
  sendSound: (block) => live.sendSound(block),
  show: (state, held) => showMicrophone(state, held),
  level: (peak) => {
    // Loud and soft stand as far apart as they sound.
    const share = peak > 0 ? Math.max(0, 1 + Math.log10(peak) / 2.5) : 0;
    byId("level-bar").style.width = `${Math.round(share * 100)}%`;
  },
  trouble: (why) => put(byId("voice-trouble"), why),
});

const player = new Player({
  said: (nr, failed) => live.send(failed ? { kind: "said", nr, failed } : { kind: "said", nr }),
  held: (is) => {
    held = is;
    showHeld();
  },
});
let held = false;
let micHeld = false;

const showHeld = () => {
  show(byId("sound-go-on"), held || micHeld);
  put(byId("sound-go-on"), held ? "Let prompts be heard" : "Let the microphone go on");
  if (held) put(byId("voice-trouble"), "The browser plays no sound before a press. Prompts are shown.");
  else if (micHeld) put(byId("voice-trouble"), "The browser holds the microphone back.");
  else if (/^The browser (plays|holds)/.test(byId("voice-trouble").textContent)) put(byId("voice-trouble"), "");
};

const showMicrophone = (state, isHeld) => {
  const on = state === "on" || state === "starting" || state === "cut";
  body.dataset.mic = state;
  const press = on && Boolean(microphone.wish?.press);
  put(byId("mic-state"), state === "on" && press ? "Listening for danger. Press, then answer." : MIC_WORDS[state] ?? state);
  put(byId("mic"), on ? "Turn the microphone off" : "Turn the microphone on");
  byId("mic").setAttribute("aria-pressed", String(on));
  show(byId("level"), on);
  show(byId("voice-options"), !on);
  show(byId("talk"), press && state === "on");
  if (!on) {
    put(byId("heard"), "");
    delete body.dataset.heard;
  }
  micHeld = isHeld;
  showHeld();
};

const takeListening = ({ state, words, heard }) => {
  const wasOn = microphone.state === "on";
  microphone.told(state);
  if (state === "on" && microphone.state === "on") {
    // Who listens is spoken to, until it is turned off here.
    if (!wasOn) setAloud(true);
    body.dataset.heard = heard;
    put(byId("heard"), HEARD[heard] ? `${HEARD[heard]} ${words}`.trim() : "");
  }
};

const consented = (keep) => {
  closeDialog();
  microphone.begin({ keep, headset: byId("headset").checked, press: byId("press-to-talk").checked });
};

byId("mic").addEventListener("click", () => {
  if (microphone.isWanted) microphone.stop();
  else if (view.sound_kept === null) openDialog(byId("consent"));
  else consented(null);
});

// The choice is this tab's, or two tabs would speak at once; it outlives a reload.
const SPEAKS = "speaks-prompts";
const speaksPrompts = () => {
  try { return sessionStorage.getItem(SPEAKS) === "yes"; } catch { return false; }
};

const setAloud = (on) => {
  aloud = on;
  try { sessionStorage.setItem(SPEAKS, on ? "yes" : "no"); } catch { /* It holds until the page is loaded again. */ }
  byId("aloud").setAttribute("aria-pressed", String(on));
  put(byId("aloud-word"), on ? "on" : "off");
};

setAloud(speaksPrompts());

byId("aloud").addEventListener("click", () => {
  setAloud(!aloud);
  if (!aloud) player.hush();
  live.send({ kind: "aloud", on: aloud });
});

byId("sound-go-on").addEventListener("click", () => {
  if (micHeld) microphone.goOn();
  if (held) player.allow();
});

const press = () => {
  if (live.send({ kind: "press" })) put(byId("heard"), "Answer now.");
};
byId("talk").addEventListener("click", press);

// Keys.

addEventListener("keydown", (event) => {
  if (event.isComposing) return;
  if (event.key === "Escape") {
    event.preventDefault();
    if (!event.repeat) stop();
    return;
  }
  // Not the number pad: with Alt that writes letters on some computers.
  const digit = /^Digit([1-9])$/.exec(event.code)?.[1];
  if (event.altKey && !event.ctrlKey && !event.metaKey && digit) {
    const pressed = byId("answers").querySelectorAll("button[aria-keyshortcuts]")[digit - 1];
    if (pressed) event.preventDefault();
    if (pressed && !event.repeat && !byId("answers").disabled && !byId("main").inert) pressed.click();
    return;
  }
  const nothing = document.activeElement === body || document.activeElement === byId("prompt");
  const emptyField = document.activeElement === field && field.value === "";
  if (event.key === " " && (nothing || emptyField) && !byId("talk").hidden && !byId("talk").disabled) {
    event.preventDefault();
    if (!event.repeat) press();
  }
}, { capture: true });

addEventListener("pagehide", () => microphone.end());

// What is sticky covers nothing: neither what has the focus nor a dialog.
new ResizeObserver(() => {
  document.documentElement.style.setProperty("--bar", `${byId("bar").offsetHeight}px`);
}).observe(byId("bar"));

setMode("");
showEnabled();
showSafety();
live.open();
if (!byTouch.matches) field.focus({ preventScroll: true });
