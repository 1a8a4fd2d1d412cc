/* Keys. Which key does what stands in one table on the server (data-key-acts of the body); none acts while somebody types. */
(() => {
  "use strict";
  const OFF = "keys-off:" + location.host;
  const acts = JSON.parse(document.body.dataset.keyActs || "{}");
  const isOff = () => { try { return localStorage.getItem(OFF) === "yes"; } catch { return false; } };
  const over = () => document.getElementById("over");
  const types = (target) => target instanceof Element && Boolean(target.closest(
    "textarea, select, [contenteditable], input:not([type=checkbox], [type=radio], [type=button], [type=submit])"));
  const step = (event) => ({ ArrowDown: 1, ArrowUp: -1 })[event.key] || 0;

  // what a key opens over the page: search, or the keys; closed, the focus goes back to where it was
  async function open(path, name) {
    const dialog = over(), held = document.getElementById("over-held");
    if (!dialog || !window.htmx || dialog.open) { if (!dialog?.open) location.assign(path); return; }
    document.getElementById("over-name").textContent = name;
    dialog.showModal();
    await window.htmx.ajax("GET", path + "?piece", { target: held, swap: "innerHTML" });
    held.querySelector("input[type=search]")?.focus();
    offerSwitch();
  }
  document.addEventListener("close", (event) => {
    if (event.target === over()) document.getElementById("over-held").replaceChildren();
  }, true);

  const ACTS = {
    search() {
      const field = document.querySelector("#main #seek-words");
      if (field) { field.focus(); field.select(); } else open("/search", "Search");
    },
    bring() {
      const field = document.getElementById("bring-text");
      if (field) field.focus(); else location.assign("/import#bring-text");
    },
    keys() { open("/keys", "Keys"); },
    mark(event) { const line = lineOf(event.target); if (line) { mark(line, !isMarked(line)); return true; } return false; },
    change() { const form = document.getElementById("marks"); if (form && marked().length) { form.requestSubmit(); return true; } return false; },
  };

  // what was found: arrows walk, Enter in the field opens the first
  function walkFound(event) {
    const seek = event.target.closest?.("#seek"), hit = event.target.closest?.("[data-hit]");
    if (!seek && !hit) return false;
    const hits = [...document.querySelectorAll("#found [data-hit]")];
    if (event.key === "Enter" && event.target.id === "seek-words") { openFirst(event.target.value.trim()); return true; }
    const way = step(event);
    if (!way) return false;
    const next = (hit ? hits.indexOf(hit) : -1) + way;
    (next < 0 ? document.getElementById("seek-words") : hits[Math.min(next, hits.length - 1)])?.focus();
    return true;
  }
  let wanted = null;
  function openFirst(text) {
    const found = document.getElementById("found"), first = found?.querySelector("[data-hit]");
    if (found?.dataset.text !== text) { wanted = text; window.htmx?.trigger("#seek", "submit"); return; }
    wanted = null;
    if (first) { over()?.close(); location.assign(first.href); }
  }
  document.addEventListener("htmx:afterSettle", () => {
    if (wanted !== null && document.getElementById("found")?.dataset.text === wanted) openFirst(wanted);
  });

  // lines of a list that can be marked, or that have a box to tick
  const lineOf = (target) => target instanceof Element ? target.closest("[data-lines] > li") : null;
  const handle = (line) => line.querySelector("summary, input[type=checkbox]");
  const lines = () => [...document.querySelectorAll("[data-lines] > li")].filter((line) => handle(line)?.offsetParent);
  const box = (line) => line.querySelector(":scope > label input[type=checkbox]");
  const isMarked = (line) => box(line)?.checked ?? line.hasAttribute("data-marked");
  const marked = () => [...document.querySelectorAll("[data-lines] > li[data-marked]")];
  function mark(line, on) {
    const tick = box(line);
    if (tick) {
      if (tick.checked !== on) { tick.checked = on; tick.dispatchEvent(new Event("input", { bubbles: true })); }
      return;
    }
    if (!line.dataset.line || line.hasAttribute("data-marked") === on) return;
    if (on) {
      line.setAttribute("data-marked", "");
      const word = document.createElement("span");
      word.className = "marked";
      word.textContent = "marked";
      line.querySelector("summary").append(word);
    } else {
      line.removeAttribute("data-marked");
      line.querySelector(".marked")?.remove();
    }
    say();
  }
  function say() {
    const form = document.getElementById("marks");
    if (!form) return;
    form.querySelectorAll("[name=line]").forEach((field) => field.remove());
    for (const line of marked()) {
      const field = document.createElement("input");
      Object.assign(field, { type: "hidden", name: "line", value: line.dataset.line });
      form.append(field);
    }
    const count = marked().length;
    form.querySelector("[role=status]").textContent = count
      ? `${count} ${count === 1 ? "line is" : "lines are"} marked. Press e to change ${count === 1 ? "it" : "them together"}, Esc to take the marks off.` : "";
  }
  function walkLines(event) {
    const way = step(event), line = lineOf(event.target);
    if (!line || event.target !== handle(line)) return false;
    if (event.key === "Escape" && marked().length) { marked().forEach((each) => mark(each, false)); return true; }
    if (!way) return false;
    const all = lines(), next = all[all.indexOf(line) + way];
    if (event.shiftKey) { mark(line, true); if (next) mark(next, true); }
    if (next) handle(next).focus();
    return true;
  }

  // in a group of words to tap, 1 to 9 press the first to the ninth and the arrows walk along them
  function tapWord(event) {
    const group = event.target.closest?.("[data-keys]");
    if (!group) return false;
    const words = [...group.querySelectorAll("button")], here = words.indexOf(document.activeElement);
    const way = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    const word = way ? words[(here + way + words.length) % words.length] : words[Number(event.key) - 1];
    if (!word) return false;
    if (way) word.focus(); else word.click();
    return true;
  }

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing || event.defaultPrevented) return;
    if (event.key === "Escape" && over()?.open) { event.preventDefault(); over().close(); return; }
    if (walkFound(event)) { event.preventDefault(); return; }
    if (types(event.target)) return;
    if (walkLines(event) || tapWord(event)) { event.preventDefault(); return; }
    const act = isOff() || over()?.open ? null : ACTS[acts[event.key]];
    if (act && act(event) !== false) event.preventDefault();
  });

  // keys of single letters and signs can be turned off, for whoever dictates or touches keys by chance
  function offerSwitch() {
    for (const place of document.querySelectorAll("[data-keys-off]")) {
      place.closest("p").hidden = false;
      place.textContent = `Turn the keys of single letters and signs ${isOff() ? "on" : "off"} on this device`;
    }
  }
  document.addEventListener("click", (event) => {
    if (!event.target.closest?.("[data-keys-off]")) return;
    try { localStorage.setItem(OFF, isOff() ? "no" : "yes"); } catch { /* not allowed: they stay as they are */ }
    offerSwitch();
  });
  document.addEventListener("DOMContentLoaded", offerSwitch);
  offerSwitch();
})();
