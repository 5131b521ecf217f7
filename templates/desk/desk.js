// Saves while somebody types, and swaps what the desk says beside it. Every task works without this: each button is a submit.
// It never touches a field or the focus.
"use strict";

const REST = 300; // milliseconds of rest before what was typed is saved

const TAB = crypto.randomUUID(); // tells what this page itself sent before from what others wrote

const page = document.getElementById("page");
const status = document.querySelector(".foot [role=status]");
let timer = 0;
let sending = null; // the request under way
let again = false; // something changed while it was
let dirty = false; // something is typed that was not saved

function say(text) {
  if (status && status.textContent !== text) status.textContent = text;
}

// The form as it is, without what is signed with.
function fields() {
  const data = new URLSearchParams();
  for (const [name, value] of new FormData(page)) {
    if (!/^(own_)?passphrase/.test(name)) data.append(name, value);
  }
  data.set("do", "live");
  data.set("tab", TAB);
  return data;
}

// Which lists and fields apply hangs on a few choices: then the form itself has another shape.
const shape = (root) => [...new Set([...root.querySelectorAll("#form [name]")].map((field) => field.name))].join("\n");

function save() {
  again = Boolean(sending);
  if (sending) return;
  dirty = false;
  sending = send().finally(() => {
    sending = null;
    if (again) save();
  });
}

async function send() {
  // The pages hold no field of the case: what is written beside them waits at the desk.
  if (!page.elements.version) return fetch(page.action, { method: "POST", body: fields(), redirect: "manual" }).catch(warn);
  try {
    const answer = await fetch(page.action, { method: "POST", body: fields(), redirect: "follow" });
    const text = await answer.text();
    if (!answer.ok) throw new Error(answer.status);
    const fresh = new DOMParser().parseFromString(text, "text/html");
    // Locked: what was sent waits there.
    if (fresh.getElementById("page")) swap(fresh);
    else location.assign(answer.url);
  } catch {
    dirty = true;
    warn();
    timer = setTimeout(save, 3000);
  }
}

function warn() {
  let told = document.getElementById("not-saved");
  if (!told) {
    told = document.createElement("p");
    told.id = "not-saved";
    told.className = "errors";
    told.setAttribute("role", "alert");
    document.getElementById("main").prepend(told);
  }
  told.textContent = page.dataset.notSaved;
}

function replace(id, fresh) {
  const [old, now] = [document.getElementById(id), fresh.getElementById(id)];
  if (!old || !now || old.contains(document.activeElement)) return false;
  // What somebody unfolded stays unfolded.
  for (const one of old.querySelectorAll("details[id]")) now.querySelector(`#${CSS.escape(one.id)}`)?.toggleAttribute("open", one.open);
  if (old.innerHTML !== now.innerHTML) old.replaceChildren(...now.childNodes);
  return true;
}

// What is said at the field somebody stands in is seen, whatever covers the foot of the window.
function show(said) {
  const field = document.activeElement?.closest(".cell, .field");
  said.find((one) => one.closest(".cell, .field") === field)?.scrollIntoView({ block: "nearest" });
}

function swap(fresh) {
  document.getElementById("not-saved")?.remove();
  const version = fresh.querySelector("#page [name=version]");
  page.querySelector("[name=version]").value = version.value;
  // What is said at each field: read-back, errors, findings.
  const said = [];
  for (const old of document.querySelectorAll(".messages[id]")) {
    const now = fresh.getElementById(old.id);
    if (old.contains(document.activeElement)) continue;
    if (now && now.innerHTML !== old.innerHTML) {
      old.replaceChildren(...now.cloneNode(true).childNodes);
      said.push(old);
    }
    const field = document.getElementById(old.id.replace(/-says$/, ""));
    const there = now && fresh.getElementById(field?.id);
    if (field && there) mark(field, there);
  }
  const found = news(fresh);
  summary(fresh);
  for (const id of ["findings", "open"]) swapAside(id, fresh);
  for (const id of ["eye", "tally"]) replace(id, fresh);
  for (const title of document.querySelectorAll("#form > .part > h2")) replace(title.id, fresh);
  look();
  for (const part of [".steps ol", ".patient", ".foot .next", ".foot .undo", ".foot .to-findings"]) {
    const [old, now] = [document.querySelector(part), fresh.querySelector(part)];
    if (old && now && old.innerHTML !== now.innerHTML && !old.contains(document.activeElement)) old.replaceChildren(...now.childNodes);
  }
  if (shape(document) !== shape(fresh)) reshape(fresh);
  show(said);
  const saved = fresh.querySelector(".foot [role=status]")?.textContent ?? "";
  status.dataset.saved = [saved, ...found].join(". ");
  say(status.dataset.saved);
}

// What came with the last change: how much is wrong, and each finding that was not there.
function news(fresh) {
  const wrong = [document, fresh].map((root) => root.querySelector("#errors h2")?.textContent);
  const came = [...fresh.querySelectorAll(".finding:not(.settled)")].filter((one) => !document.getElementById(one.id));
  const titles = came.map((one) => one.querySelector("h3").textContent.replace(/\s+/g, " ").trim());
  return (wrong[1] && wrong[1] !== wrong[0] ? [wrong[1]] : []).concat(titles);
}

// The summary of what is wrong comes, changes and goes above the form.
function summary(fresh) {
  const [old, now] = [document.getElementById("errors"), fresh.getElementById("errors")];
  if (!now) old?.remove();
  else if (!old) document.getElementById("form").before(now);
  else replace("errors", fresh);
}

function mark(field, there) {
  const wrong = there.getAttribute("aria-invalid");
  if (wrong) field.setAttribute("aria-invalid", wrong);
  else field.removeAttribute("aria-invalid");
  const [row, now] = [field.closest(".field"), there.closest(".field")];
  if (row && now) row.className = now.className;
}

// Somebody may be about to sign: then what stands there waits.
function swapAside(id, fresh) {
  const secrets = document.getElementById(id).querySelectorAll("input[type=password]");
  if (![...secrets].some((secret) => secret.value)) replace(id, fresh);
}

let looking = null; // what is newer takes the place of what is on its way, and nothing flickers

async function look() {
  const preview = document.getElementById("preview");
  looking?.abort();
  looking = new AbortController();
  try {
    const answer = await fetch(preview.dataset.from, { signal: looking.signal });
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    const seat = fresh.querySelector("#preview img");
    const picture = new Image();
    if (seat) {
      [picture.src, picture.alt] = [seat.getAttribute("src"), seat.alt];
      seat.removeAttribute("src");
      await picture.decode();
    }
    if (!replace("preview", fresh)) return;
    preview.querySelector("img")?.replaceWith(picture);
    turn(preview.querySelector(".paper"), preview.querySelector(".bar2"));
    const altered = preview.querySelector(".altered")?.textContent;
    if (altered) say(`${status.dataset.saved}. ${altered}`);
  } catch {
    // What stood there stays until the next change.
  }
}

// Brings what the last change altered into view.
function turn(paper, altered) {
  if (altered) paper.scrollTop = altered.getBoundingClientRect().top - paper.getBoundingClientRect().top - 24;
}

// Fields that came or went: their section is taken anew, unless somebody stands in it; then only what is new is added.
function reshape(fresh) {
  for (const now of fresh.querySelectorAll("#form > .part")) {
    const old = document.getElementById(now.id);
    if (!old) place(now, fresh);
    else if (old.contains(document.activeElement)) add(old, now);
    else if (shapeOf(old) !== shapeOf(now)) old.replaceWith(now.cloneNode(true));
  }
  for (const old of document.querySelectorAll("#form > .part")) {
    if (!fresh.getElementById(old.id) && !old.contains(document.activeElement)) old.remove();
  }
}

const shapeOf = (part) => [...part.querySelectorAll("[name]")].map((field) => field.name).join("\n");

function place(part, fresh) {
  const parts = [...fresh.querySelectorAll("#form > .part")];
  const before = parts.slice(0, parts.indexOf(part)).reverse().map((one) => document.getElementById(one.id));
  const at = before.find(Boolean) ?? document.querySelector("#form > legend");
  at.after(part.cloneNode(true));
}

// Within the section somebody stands in, rows are only added and fields only come.
function add(old, now) {
  for (const entries of now.querySelectorAll(".field.rows[id]")) {
    const mine = document.getElementById(entries.id)?.querySelector(".entries");
    const rows = entries.querySelectorAll(".entry");
    for (let at = mine?.children.length ?? rows.length; at < rows.length; at++) mine.append(rows[at].cloneNode(true));
  }
  let last = null;
  for (const field of now.querySelectorAll(":scope > .field, :scope > details > .field")) {
    const name = field.querySelector("[name]")?.name;
    const mine = name && old.querySelector(`[name="${CSS.escape(name)}"]`)?.closest(".field");
    if (mine) last = mine;
    else if (last) {
      const copy = field.cloneNode(true);
      last.after(copy);
      last = copy;
    }
  }
}

function typed() {
  dirty = true;
  clearTimeout(timer);
  timer = setTimeout(save, REST);
}

if (page) {
  page.addEventListener("input", (event) => {
    if (event.target.closest("#form") || event.target.matches("textarea")) typed();
  });
  // A submit sends everything by itself, after what is under way: else it would meet its own earlier words.
  page.addEventListener("submit", (event) => {
    clearTimeout(timer);
    dirty = again = false;
    if (!sending) return;
    event.preventDefault();
    sending.then(() => page.requestSubmit(event.submitter?.isConnected ? event.submitter : null));
  });
  addEventListener("beforeunload", () => {
    if (dirty) navigator.sendBeacon?.(page.action, fields());
  });
}

// Names that are known are offered under the field while one types; without this the browser's own list does it.
const MOST = 8;
const rows = () => [...document.querySelectorAll("#offers [role=option]")];

function offer(field) {
  shut();
  const text = field.value.trim().toLowerCase();
  const at = (name) => name.toLowerCase().indexOf(text);
  const names = [...document.getElementById("names").options].map((one) => one.value).filter((name) => at(name) >= 0);
  const found = names.sort((one, other) => at(one) - at(other)).slice(0, MOST).filter((name) => text && name !== text);
  if (!found.length) return;
  const list = document.createElement("ul");
  Object.assign(list, { id: "offers", role: "listbox", ariaLabel: document.getElementById("names").dataset.label });
  const row = (name, at) => ({ id: `offer-${at}`, role: "option", ariaSelected: "false", textContent: name });
  list.append(...found.map((name, at) => Object.assign(document.createElement("li"), row(name, at))));
  field.closest(".input").after(list);
  field.ariaExpanded = "true";
}

function shut() {
  document.getElementById("offers")?.remove();
  for (const field of document.querySelectorAll("[role=combobox]")) {
    field.ariaExpanded = "false";
    field.removeAttribute("aria-activedescendant");
  }
}

function take(field, name) {
  field.value = name;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  shut();
}

// Up and Down go through what is offered, Enter takes it, Escape leaves what was typed.
function choose(event) {
  const [field, all] = [event.target, rows()];
  const now = all.findIndex((row) => row.ariaSelected === "true");
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (step) {
    const to = all[(now < 0 && step < 0 ? all.length - 1 : now + step + all.length) % all.length];
    for (const row of all) row.ariaSelected = String(row === to);
    field.setAttribute("aria-activedescendant", to.id);
  } else if (event.key === "Enter" && now >= 0) take(field, all[now].textContent);
  else if (event.key === "Escape") shut();
  else return;
  event.preventDefault();
}

if (document.getElementById("names")) {
  page.addEventListener("focusin", ({ target }) => {
    if (!target.matches("[list=names]")) return;
    target.removeAttribute("list");
    Object.assign(target, { role: "combobox", ariaAutoComplete: "list", ariaExpanded: "false" });
    target.setAttribute("aria-controls", "offers");
  });
  page.addEventListener("focusout", shut);
  page.addEventListener("input", ({ target }) => target.matches("[role=combobox]") && offer(target));
  page.addEventListener("keydown", (event) => event.target.matches("[role=combobox]") && rows().length && choose(event));
  page.addEventListener("pointerdown", (event) => {
    const row = event.target.closest("#offers [role=option]");
    if (!row) return;
    event.preventDefault(); // the field keeps the focus
    take(document.activeElement, row.textContent);
  });
}

const links = () => [...document.querySelectorAll("#errors a, .finding:not(.settled) a, ul.open a")].filter((link) => link.hash);

function nextOpen(back) {
  const fields = links().map((link) => document.getElementById(link.hash.slice(1))).filter(Boolean);
  const here = document.activeElement;
  const after = fields.filter((field) => here.compareDocumentPosition(field) & (back ? 2 : 4));
  const to = (back ? after.pop() : after[0]) ?? (back ? fields.pop() : fields[0]);
  if (to) go(to);
  else links()[0]?.click();
}

function go(field) {
  field.closest("details")?.setAttribute("open", "");
  const focus = field.matches("fieldset") ? field.querySelector("input:checked, input, select, textarea") : field;
  focus?.focus();
}

// A link to a field in a folded section unfolds it.
addEventListener("click", (event) => {
  const link = event.target.closest?.("a[href*='#']");
  const field = link && link.pathname === location.pathname && document.getElementById(link.hash.slice(1));
  if (field?.closest("#form")) {
    event.preventDefault();
    go(field);
  }
});

// Whoever is hindered by the keys turns them off in this browser.
const keys = document.getElementById("keys");
const off = () => localStorage.getItem("keys") === "off";

function label() {
  keys.textContent = off() ? keys.dataset.on : keys.dataset.off;
  keys.hidden = false;
}

if (keys) {
  label();
  keys.addEventListener("click", () => {
    localStorage.setItem("keys", off() ? "on" : "off");
    label();
  });
}

const TURN = { ArrowLeft: "[rel=prev]", ArrowRight: "[rel=next]" };

addEventListener("keydown", (event) => {
  if (off()) return;
  if (event.key === "F2" && document.getElementById("find")) document.getElementById("find").focus();
  else if (event.key === "F2") location.assign("/day#find");
  else if (event.key === "F8" && page) nextOpen(event.shiftKey);
  else if (event.key === "Enter" && event.ctrlKey) document.querySelector(".foot .button, .cases .button.main")?.click();
  else if (event.key === "s" && event.ctrlKey && page?.elements.version) save();
  else if (document.activeElement?.id === "paper" && TURN[event.key]) document.querySelector(TURN[event.key])?.click();
  else return;
  event.preventDefault();
});

// What changes with the clock, and a batch on its way, is asked for again; nothing is swapped while somebody stands in it.
async function renew(id, address) {
  const old = document.getElementById(id);
  const answer = await fetch(address).catch(() => null);
  if (!answer?.ok) return;
  const now = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById(id);
  if (now?.hasAttribute("data-running") !== old.hasAttribute("data-running")) location.reload();
  else if (old.innerHTML !== now.innerHTML && !old.contains(document.activeElement)) old.replaceChildren(...now.childNodes);
}

if (document.getElementById("due")) setInterval(renew, 20000, "due", "/due");
if (document.querySelector("#batch[data-running]")) setInterval(renew, 1000, "batch", location.href);

// Nobody's name stays on a screen that nobody touches: by then the desk is locked, unless somebody works in another tab.
let untouched = 0;
function touched() {
  clearTimeout(untouched);
  untouched = setTimeout(() => location.reload(), document.body.dataset.idle * 1000);
}
if (document.body.dataset.idle) {
  for (const touch of ["keydown", "pointerdown", "scroll"]) addEventListener(touch, touched, { passive: true });
  touched();
}

document.getElementById("errors")?.focus();
