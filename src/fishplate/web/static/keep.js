/* What is typed into a form stays on this device until the server says it was written. */
(() => {
  "use strict";
  const PREFIX = "draft:" + location.host + ":";
  const SENT = "sent:" + location.host + ":", HALF_A_DAY = 12 * 3600 * 1000;
  const keyOf = (form) => PREFIX + form.dataset.keep;
  const kept = (field) => field.name && !["hidden", "file", "password"].includes(field.type);
  const store = {
    read(key) { try { return JSON.parse(localStorage.getItem(key)); } catch { return null; } },
    write(key, value) { try { localStorage.setItem(key, JSON.stringify(value)); } catch { /* no room: nothing is kept */ } },
    drop(key) { try { localStorage.removeItem(key); } catch { /* not allowed */ } },
  };

  function save(form) {
    const fields = [...form.elements].filter(kept);
    store.write(keyOf(form), fields.map((f) => [f.name, f.value, f.checked === true]));
    form.dataset.typed = "yes";
  }

  function restore(form) {
    const draft = store.read(keyOf(form));
    if (!Array.isArray(draft)) return;
    for (const field of [...form.elements].filter(kept)) {
      const many = field.type === "checkbox" || field.type === "radio";
      const found = draft.find(([name, value]) => name === field.name && (!many || value === field.value));
      if (!found) continue;
      const differs = many ? field.checked !== found[2] : field.value !== found[1];
      if (many) field.checked = found[2]; else field.value = found[1];
      if (differs) field.closest("details")?.setAttribute("open", "");
    }
    form.dataset.typed = "yes";
    form.closest("details")?.setAttribute("open", "");
  }

  // What is sent again unchanged, because its answer never came, goes under the same name: it is written once.
  function name(form, data) {
    const value = (v) => (v instanceof File ? v.name + ":" + v.size : v);
    const said = JSON.stringify([form.getAttribute("action"), ...[...data].filter(([key]) => key !== "revision").map(([key, v]) => [key, value(v)])]);
    const key = SENT + form.dataset.keep, before = store.read(key);
    const again = before && before.said === said && Date.now() - before.at < HALF_A_DAY;
    const sending = again ? before.name : [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");
    store.write(key, { name: sending, said, at: Date.now() });
    return sending;
  }
  document.addEventListener("htmx:configRequest", (event) => {
    const form = event.target.closest?.("form[data-keep]");
    if (form && event.detail.verb === "post") event.detail.headers["Fishplate-Sending"] = name(form, event.detail.formData);
  });

  function look(root) {
    const done = document.querySelector("[data-kept]");
    if (done) { [PREFIX, SENT].forEach((kind) => store.drop(kind + done.dataset.kept)); done.removeAttribute("data-kept"); }
    // a refused form comes back from the server with what was typed
    root.querySelectorAll("form[data-keep]").forEach((form) => { if (!form.querySelector("[role=alert]")) restore(form); });
  }

  document.addEventListener("input", (event) => {
    const form = event.target.form;
    if (form?.dataset.keep) save(form);
  });
  document.addEventListener("reset", (event) => {
    if (event.target.dataset.keep) { store.drop(keyOf(event.target)); delete event.target.dataset.typed; }
  });
  document.addEventListener("DOMContentLoaded", () => { look(document); showRoom(); });

  // in a low window the list of rooms scrolls by itself: the room that is open stands in what is seen of it
  function showRoom() {
    const rooms = document.getElementById("rooms"), here = rooms?.querySelector("a[aria-current]");
    if (here) rooms.scrollTop = here.offsetTop - rooms.clientHeight / 2;
  }
  document.addEventListener("htmx:afterSettle", (event) => {
    look(event.target instanceof Element ? event.target.parentElement ?? document : document);
    const fault = document.querySelector("#main [aria-invalid=true], #main [role=alert]");
    if (event.target.id === "main" && fault) { fault.setAttribute("tabindex", fault.tabIndex < 0 ? "-1" : "0"); fault.focus(); }
    document.getElementById("dropped").hidden = true;
  });
  // a form that leads to another page begins it at its head, like any link
  let here = location.pathname;
  document.addEventListener("htmx:pushedIntoHistory", () => {
    if (location.pathname !== here) { window.scrollTo(0, 0); document.getElementById("main")?.focus({ preventScroll: true }); }
    here = location.pathname;
  });
  const dropped = () => { document.getElementById("dropped").hidden = false; };
  document.addEventListener("htmx:sendError", dropped);
  document.addEventListener("htmx:timeout", dropped);
  // a page brings itself up to date with a new plan, but not under the hands of someone typing or reading on
  const inHand = () => document.querySelector(
    "#main form[data-typed], #main details[open], #main :focus-within, #main [aria-invalid=true], #main [role=alert], #main [data-marked]");
  let changed = false;
  const offer = () => {
    const fresh = document.getElementById("fresh");
    if (!fresh || !fresh.hidden) return;
    fresh.querySelector("[data-plan]").hidden = changed;
    fresh.querySelector("[data-change]").hidden = !changed;
    fresh.hidden = false;
  };
  document.addEventListener("htmx:beforeRequest", (event) => {
    if (event.target.hasAttribute?.("data-fresh") && inHand()) { event.preventDefault(); offer(); }
  });
  // what another page, another device or a command has changed shows here within a few seconds
  const PAUSE = 4000;
  let told = "";
  async function ask() {
    const shown = document.querySelector("[data-stands]")?.dataset.stands;
    if (!shown || document.hidden) return;
    try {
      const answer = await fetch("/plan/stands");
      const now = answer.ok ? await answer.text() : shown;
      // it may have been brought up to date meanwhile
      if (now === shown || document.querySelector("[data-stands]")?.dataset.stands !== shown) return;
      const revision = (words) => words.split(" ")[0];
      changed = revision(now) !== revision(shown);
      document.body.dispatchEvent(new CustomEvent("change-made"));
      // the head of the page follows in any case: how far the plan is, and whether it is out of date
      if (inHand() && told !== now) window.htmx?.ajax("GET", "/plan?piece", { target: "#state", swap: "innerHTML" });
      told = now;
    } catch { /* not reachable for now */ }
  }
  setInterval(ask, PAUSE);
  document.addEventListener("visibilitychange", ask);
  // somebody may have begun while it was on its way, or the page have become another one
  document.addEventListener("htmx:beforeSwap", (event) => {
    const asked = event.detail.requestConfig?.elt;
    if (asked?.hasAttribute?.("data-fresh") && (inHand() || !document.contains(asked))) {
      event.detail.shouldSwap = false;
      offer();
    }
  });
})();
