
"use strict";
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const sounds = JSON.parse(document.getElementById("sounds").textContent);
  const turns = [...document.querySelectorAll("article[data-seq]")];
  const byId = (id) => document.getElementById(id);
  const status = byId("status");
  const caption = byId("caption");
  const tell = (words) => { status.textContent = words; };
  const shown = (turn) => !turn.hidden;

  // Sound: one player; a file is made of a sound when it is first wanted.
  const player = new Audio();
  const files = new Map();
  let playing = null;
  let whole = false;
  let wait = 0;
  const file = (name) => {
    if (!files.has(name)) {
      const bytes = Uint8Array.from(atob(sounds[name]), (sign) => sign.charCodeAt(0));
      files.set(name, URL.createObjectURL(new Blob([bytes], { type: "audio/flac" })));
    }
    return files.get(name);
  };
  const speed = () => Number(byId("speed") ? byId("speed").value : 1);
  const label = (turn, on) => {
    const button = turn.querySelector("button.play");
    if (button) button.firstChild.nodeValue = on ? "Stop " : "Play ";
  };
  const show = (who, words) => {
    caption.replaceChildren();
    if (!words) return;
    const name = document.createElement("span");
    name.className = "who";
    name.textContent = who + ": ";
    caption.append(name, words);
  };
  const stop = () => {
    whole = false;
    clearTimeout(wait);
    player.pause();
    if (playing) { label(playing, false); playing.classList.remove("current"); }
    playing = null;
    show("", "");
    const button = byId("play-whole");
    if (button) button.textContent = "Play all";
  };
  const ended = () => {
    const turn = playing;
    if (!turn) return;
    label(turn, false);
    if (!whole) { stop(); return; }
    turn.classList.remove("current");
    playing = null;
    const said = data.spoken[turn.dataset.seq] || "";
    show("program", said);
    // What the program said is not recorded; there is time to read it.
    wait = setTimeout(() => next(turn), Math.min(6000, 400 + said.length * 35) / speed());
  };
  const start = (turn) => {
    if (playing) { label(playing, false); playing.classList.remove("current"); }
    playing = turn;
    turn.classList.add("current");
    label(turn, true);
    const marks = [...turn.querySelectorAll(".mark[data-said]:not(.gone)")];
    const reviewed = [...new Set(marks.map((mark) => mark.dataset.said || "(no answer to the program)"))];
    const said = turn.querySelector(".said q");
    if (reviewed.length) show("technician, as reviewed", reviewed.join(" / "));
    else show("technician", said ? said.textContent : "");
    player.src = file(turn.dataset.sound);
    player.playbackRate = speed();
    player.play().catch((error) => { stop(); tell("This sound cannot be played here (" + error.name + ")."); });
  };
  const next = (after) => {
    const from = after ? turns.indexOf(after) + 1 : 0;
    const turn = turns.slice(from).find((each) => each.dataset.sound && shown(each));
    if (!turn) { stop(); tell("That was the last sound."); return; }
    turn.scrollIntoView({ block: "center" });
    start(turn);
  };
  player.addEventListener("ended", ended);
  if (byId("speed")) byId("speed").addEventListener("change", () => { player.playbackRate = speed(); });
  if (byId("play-whole")) byId("play-whole").addEventListener("click", () => {
    if (whole) { stop(); return; }
    stop();
    whole = true;
    byId("play-whole").textContent = "Stop";
    next(null);
  });
  for (const turn of turns) {
    const button = turn.querySelector("button.play");
    if (button) button.addEventListener("click", () => {
      const same = playing === turn;
      stop();
      if (!same) start(turn);
    });
  }

  // Where to look next, and what to look at.
  const has = (turn, flag) => flag === "sound" ? Boolean(turn.dataset.sound) : turn.dataset.flags.includes("|" + flag + "|");
  let last = -1;
  byId("next-turn").addEventListener("click", () => {
    const flag = byId("next-flag").value;
    const order = [...turns.slice(last + 1), ...turns.slice(0, last + 1)];
    const turn = order.find((each) => shown(each) && has(each, flag));
    if (!turn) { tell("No turn has: " + flag + "."); return; }
    last = turns.indexOf(turn);
    tell(flag + ": event " + turn.dataset.seq + ".");
    turn.scrollIntoView({ block: "center" });
    turn.focus({ preventScroll: true });
  });
  byId("only").addEventListener("change", () => {
    const flag = byId("only").value;
    for (const turn of turns) turn.hidden = Boolean(flag) && !has(turn, flag);
    const count = turns.filter(shown).length;
    byId("none-shown").hidden = count > 0;
    last = -1;
    tell(flag ? count + (count === 1 ? " turn is shown." : " turns are shown.") : "Every turn is shown.");
  });

  // Marks: to the record where the page is served, else kept here until they are saved as a file.
  const store = "voicetech marks " + data.record + " " + data.job;
  let unsaved = [];
  let dirty = false;
  const remember = () => { try { localStorage.setItem(store, JSON.stringify(unsaved)); } catch { /* a page from a file may not be allowed to */ } };
  const reviewer = byId("reviewer");
  try { reviewer.value = localStorage.getItem("voicetech reviewer") || ""; } catch { /* as above */ }
  const needsName = () => {
    if (reviewer.value.trim()) return false;
    tell("Type your name first: Reviewer.");
    reviewer.focus();
    return true;
  };
  const put = (mark) => {
    const item = document.createElement("li");
    item.className = "mark";
    if (mark.kind === "misheard") item.dataset.said = mark.said;
    const name = document.createElement("span");
    name.className = "label";
    name.textContent = mark.kind === "signed-off" ? "signed off" : mark.kind === "commented" ? "comment" : mark.kind;
    const words = document.createElement("bdi");
    if (mark.kind === "misheard") words.textContent = mark.said ? "What was said: " + mark.said : "It was no answer to the program";
    else if (mark.kind === "commented") words.textContent = mark.text;
    else words.textContent = "up to event " + mark.events;
    const who = document.createElement("small");
    who.textContent = mark.reviewer + (data.served ? "" : ", not yet in the record");
    item.append(name, " ", words, " ", who);
    const turn = mark.seq ? byId("e" + mark.seq) : null;
    const list = turn ? turn.querySelector(".marks") : byId(mark.kind === "signed-off" ? "sign-offs" : "job-marks");
    list.append(item);
    if (turn && !has(turn, "mark")) turn.dataset.flags += "mark|";
    if (mark.nr) { item.dataset.nr = mark.nr; offerTakingBack(item); }
    else dropButton(item, mark);
    if (mark.kind === "signed-off" && byId("unsigned")) byId("unsigned").hidden = true;
  };
  // What is only kept in the page is dropped without a trace; what is in the record is taken back and stays there.
  const dropButton = (item, mark) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "controls";
    button.textContent = "Drop";
    button.addEventListener("click", () => {
      unsaved = unsaved.filter((each) => each !== mark);
      dirty = unsaved.length > 0;
      remember();
      item.remove();
      byId("save-marks").hidden = unsaved.length === 0;
      if (byId("unsigned") && !document.querySelector("#sign-offs .mark")) byId("unsigned").hidden = false;
      tell("Dropped.");
    });
    item.append(" ", button);
  };
  const send = async (mark) => {
    const answer = await fetch("marks", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(mark) });
    const told = await answer.json().catch(() => ({}));
    if (!answer.ok) throw new Error(told.error || "The mark was refused (" + answer.status + ").");
    return told.marks;
  };
  const save = async (mark) => {
    try { localStorage.setItem("voicetech reviewer", mark.reviewer); } catch { /* as above */ }
    if (!data.served) {
      const same = (each) => ["kind", "seq", "said", "text", "events", "reviewer"].every((name) => each[name] === mark[name]);
      if (unsaved.some(same)) { tell("That is marked already."); return true; }
      const kept = { ...mark, at: new Date().toISOString() };
      unsaved.push(kept);
      remember();
      dirty = true;
      put(kept);
      byId("save-marks").hidden = false;
      tell("Kept in this page. Save the marks as a file before you close it.");
      return true;
    }
    try {
      const marks = await send(mark);
      // What this reviewer said already is on record once, and stands on the page.
      const latest = marks[marks.length - 1];
      const there = mark.kind !== "taken-back" && document.querySelector('.mark[data-nr="' + latest.nr + '"]');
      if (mark.kind !== "taken-back" && !there) put(latest);
      tell(there ? "That is marked already." : "Saved.");
      return true;
    } catch (error) {
      tell("Not saved: " + (error instanceof TypeError ? "the program that served this page does not answer. Start it again with voicetech review; what you typed is still here." : error.message));
      return false;
    }
  };
  const offerTakingBack = (item) => {
    if (!data.served) return;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "controls";
    button.textContent = "Take back";
    button.addEventListener("click", async () => {
      if (needsName()) return;
      if (await save({ kind: "taken-back", mark: Number(item.dataset.nr), reviewer: reviewer.value.trim() })) {
        item.classList.add("gone");
        button.remove();
      }
    });
    item.append(" ", button);
  };
  for (const item of document.querySelectorAll(".mark[data-nr]")) offerTakingBack(item);
  const MOST_RIVALS = 5;
  const forms = new Map();
  const open = (button, template, place, make, heard) => {
    if (forms.has(button)) { forms.get(button).querySelector(".cancel").click(); return; }
    const form = template.content.firstElementChild.cloneNode(true);
    const close = () => { form.remove(); forms.delete(button); button.setAttribute("aria-expanded", "false"); button.focus(); };
    forms.set(button, form);
    form.querySelector(".cancel").addEventListener("click", close);
    form.addEventListener("keydown", (event) => { if (event.key === "Escape") close(); });
    const field = form.querySelector("input, textarea");
    if (heard && heard.length > 1) {
      const rivals = form.querySelector(".rivals");
      for (const words of heard.slice(0, MOST_RIVALS)) {
        const choice = document.createElement("button");
        choice.type = "button";
        choice.textContent = words;
        choice.addEventListener("click", () => { field.value = words; field.focus(); });
        rivals.append(" ", choice);
      }
      rivals.hidden = false;
    }
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      if (needsName()) return;
      if (await save({ ...make(form), reviewer: reviewer.value.trim() })) close();
    });
    button.setAttribute("aria-expanded", "true");
    place.append(form);
    field.focus();
  };
  for (const button of document.querySelectorAll("button.misheard")) {
    const turn = button.closest("article");
    const seq = Number(turn.dataset.seq);
    button.addEventListener("click", () => open(button, byId("misheard-form"), turn.querySelector(".review"),
      (form) => ({ kind: "misheard", seq, said: form.elements.said.value.trim() }), data.heard[seq]));
  }
  for (const button of document.querySelectorAll("button.comment")) {
    const turn = button.closest("article");
    const place = turn ? turn.querySelector(".review") : byId("whole-job");
    button.addEventListener("click", () => open(button, byId("comment-form"), place,
      (form) => ({ kind: "commented", seq: turn ? Number(turn.dataset.seq) : null, text: form.elements.text.value.trim() })));
  }
  byId("sign-off").addEventListener("click", async () => {
    if (needsName()) return;
    await save({ kind: "signed-off", events: data.events, reviewer: reviewer.value.trim() });
  });
  if (byId("save-marks")) {
    try { unsaved = JSON.parse(localStorage.getItem(store) || "[]"); } catch { unsaved = []; }
    for (const mark of unsaved) put(mark);
    addEventListener("beforeunload", (event) => { if (dirty) event.preventDefault(); });
    byId("save-marks").hidden = unsaved.length === 0;
    byId("save-marks").addEventListener("click", () => {
      const text = JSON.stringify({ job: data.job, record: data.record, marks: unsaved }, null, 1);
      const link = document.createElement("a");
      link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
      link.download = data.job + ".marks.json";
      link.click();
      dirty = false;
      tell("The marks are in " + link.download + ".");
    });
  }
  if (byId("stop-serving")) byId("stop-serving").addEventListener("click", async () => {
    try { await fetch("stop", { method: "POST", headers: { "Content-Type": "application/json" }, body: "{}" }); } catch { /* it may end before it answers */ }
    tell("The review has ended; this window can be closed.");
  });
  addEventListener("beforeprint", () => { for (const each of document.querySelectorAll("details[data-printed], section > details")) each.open = true; });
})();
