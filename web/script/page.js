// Keeps a page in place while its links and keys work: fetches what a link or a form answers and swaps the page's body
// in. Without this script the same links and forms work as plain ones.

import { Idiomorph } from "../vendor/idiomorph-0.8.0.js";
import { uuid7 } from "./act.js";
import * as glove from "./glove.js";
import { ask, base, engine, here, pathOf, phone } from "./host.js";
import * as line from "./line.js";
import * as lock from "./lock.js";
import * as speech from "./speech.js";
import * as undo from "./undo.js";

const naming = 4000; // ms that the keys are names
const patience = 10000; // ms before an act counts as not saved
const fixWait = 3000; // ms that a key waits for a fix; the act is saved all the same

const keep = { morphStyle: "outerHTML", callbacks: { beforeNodeMorphed: (n) => n.id !== "chart" } }; // the map draws itself

let shown = here(); // the path of the page that is shown
let busy = false;
let later = 0;
let closed = false; // the guide closed the long answer
document.documentElement.dataset.script = ""; // keys that need the script are shown
const wide = matchMedia("(min-width: 900px)");

// swap puts a page that came from a path in place of the one that is shown.
function swap(html, path, push) {
	const next = new DOMParser().parseFromString(html, "text/html");
	const url = new URL(path, location.origin);
	const same = url.pathname === new URL(shown, location.origin).pathname;
	const open = same ? [...document.querySelectorAll("details[open]")].map((d) => d.id) : [];
	document.title = next.title;
	document.documentElement.dataset.theme = next.documentElement.dataset.theme;
	document.documentElement.className = next.documentElement.className;
	if (phone) document.documentElement.style.background = next.body.getAttribute("bgcolor"); // where the shell painted it
	for (const id of open) next.getElementById(id)?.setAttribute("open", "");
	window.dispatchEvent(new CustomEvent("page:leave", { detail: { same } }));
	undo.lift(next);
	const main = next.getElementById("main");
	if (!next.getElementById("strip") || !document.getElementById("strip")) document.body = next.body; // one of them stands alone
	else {
		document.body.dataset.refresh = next.body.dataset.refresh;
		document.body.dataset.units = next.body.dataset.units;
		Idiomorph.morph(document.getElementById("strip"), next.getElementById("strip"), keep);
		Idiomorph.morph(document.getElementById("nav"), next.getElementById("nav"), keep);
		if (same) Idiomorph.morph(document.getElementById("main"), main, keep);
		else document.getElementById("main").replaceWith(main);
	}
	url.searchParams.delete("done");
	url.searchParams.delete("undone");
	shown = url.pathname + url.search + url.hash;
	if (push && base + shown !== location.pathname + location.search + location.hash) history.pushState(null, "", base + shown);
	else history.replaceState(null, "", base + shown);
	engine?.then((m) => m.remember(shown)).catch(() => {}); // then the icon leads to Now
	arrive();
	if (url.hash) document.getElementById(url.hash.slice(1))?.scrollIntoView();
}

// arrive wakes what the page that has come in needs.
function arrive() {
	clearTimeout(later);
	const map = document.getElementById("chart");
	if (map) import("./map.js").then((m) => m.show(map)).catch((e) => trouble("The map could not be drawn. " + e.message));
	if (document.getElementById("rehearsal-time")) import("./rehearsal.js").then((m) => m.wake()); // else the day is stepped through by links
	if (document.querySelector(".now.naming")) later = setTimeout(() => load("/", false), naming);
	else if (document.body.dataset.refresh) later = setTimeout(refresh, Number(document.body.dataset.refresh) * 1000);
	if (document.querySelector("[data-picture]")) import("../phone/card.js").then((m) => m.wake(trouble)).catch((e) => trouble(e.message));
	if (document.getElementById("memos")) import("../phone/memo.js").then((m) => m.wake()).catch((e) => trouble(e.message));
	if (document.getElementById("app-state")) import("../phone/state.js").then((m) => m.show()).catch((e) => trouble(e.message));
	line.wake();
	undo.stand();
	lock.stand();
	speech.wake();
	const why = document.getElementById("why");
	if (why && wide.matches && !closed) why.open = true; // a large screen has room for it
	if (why) why.querySelector("summary").onclick = () => { closed = why.open; };
	document.body.dataset.ready = "yes";
}

function refresh() {
	if (document.hidden || busy || document.querySelector(wide.matches ? "details[open]:not(#why), .reading :checked" : "details[open], .reading :checked")) later = setTimeout(refresh, 5000);
	else load(shown, false, true);
}

function trouble(text) {
	const box = document.getElementById("trouble");
	box.textContent = text;
	box.hidden = !text;
}

let wanted = 0; // counts the pages and acts that were asked for: the answer to an older one comes too late
let loading = 0; // pages under way

async function load(path, push, quiet) {
	if (quiet && loading) return; // what the guide asked for comes
	clearTimeout(later);
	loading++;
	const mine = ++wanted;
	try {
		const r = await ask(path.split("#")[0], { signal: AbortSignal.timeout(patience) });
		if (mine !== wanted) return;
		trouble("");
		if (phone && r.type.startsWith("text/plain")) trouble(await r.text()); // the record could not be opened: there is no page
		else swap(await r.text(), r.path + new URL(path, location.origin).hash, push);
	} catch (e) {
		if (mine !== wanted) return;
		trouble(quiet ? "This page has not been brought up to date: " + e.message : "The page could not be shown: " + e.message);
		if (quiet || document.body.dataset.refresh) later = setTimeout(refresh, 15000);
	} finally {
		loading--;
	}
}

// fetched gives the person a file that a link on the phone leads to.
async function fetched(a) {
	const r = await ask(pathOf(a.href));
	const to = document.createElement("a");
	to.href = URL.createObjectURL(await r.blob());
	to.download = a.getAttribute("download") || r.name || "icehand";
	to.click();
	setTimeout(() => URL.revokeObjectURL(to.href), 60000);
}

// fix asks the phone once where it is; a key never waits long for it.
function fix() {
	return new Promise((done) => {
		if (!navigator.geolocation) return done(null);
		const stop = setTimeout(() => done(null), fixWait);
		navigator.geolocation.getCurrentPosition(
			(p) => { clearTimeout(stop); done(p); },
			() => { clearTimeout(stop); done(null); },
			{ enableHighAccuracy: true, maximumAge: 10000, timeout: fixWait });
	});
}

async function post(form, key) {
	if (busy) return;
	busy = true;
	wanted++;
	clearTimeout(later);
	const id = form.elements.namedItem("id");
	if (id && !form.dataset.tried) id.value = uuid7(); // a resend keeps its identity
	form.dataset.tried = "yes";
	const files = form.enctype === "multipart/form-data";
	const data = new FormData(form, key && key.name ? key : null);
	try {
		if ("locate" in form.dataset) {
			const p = await fix();
			if (p) {
				data.set("lat", p.coords.latitude);
				data.set("lon", p.coords.longitude);
				data.set("accuracy", p.coords.accuracy);
				data.set("age", Math.max(0, (Date.now() - p.timestamp) / 1000));
			}
		}
		const r = await ask(pathOf(form.action), { method: "POST", body: files ? data : new URLSearchParams(data), signal: AbortSignal.timeout(files ? 12 * patience : patience) });
		const html = await r.text();
		if (r.ok) {
			delete form.dataset.tried;
			trouble("");
			glove.felt(pathOf(form.action));
			if (pathOf(form.action) === "/undo") undo.drop();
			swap(html, r.path, true);
		} else if (r.status >= 500) {
			trouble("Not saved. " + said(html) + " Press again: it counts once.");
		} else {
			delete form.dataset.tried;
			swap(html, shown, false);
		}
	} catch (e) {
		trouble("Not saved: no answer. Press again: it counts once.");
	} finally {
		busy = false;
		key?.classList.remove("hit");
	}
}

function said(html) {
	const page = new DOMParser().parseFromString(html, "text/html");
	return page.querySelector(".fault p")?.textContent ?? "";
}

document.addEventListener("click", (e) => {
	const a = e.target.closest("a[href]");
	if (phone && a?.hasAttribute("download")) {
		e.preventDefault();
		fetched(a).catch((x) => trouble("The file could not be made. " + x.message));
		return;
	}
	if (!a || a.origin !== location.origin || a.target || a.hasAttribute("download") || e.ctrlKey || e.metaKey || e.shiftKey || e.button !== 0) return;
	e.preventDefault();
	load(pathOf(a.href), !("replace" in a.dataset)); // a link that only changes the view leaves no trail
});

document.addEventListener("click", (e) => { if (e.target.closest("[data-print]")) window.print(); });

document.addEventListener("click", (e) => {
	if (!held || e.detail === 0) return;
	held = false;
	e.preventDefault();
	e.stopImmediatePropagation();
}, true);

// A figure of a reading that is pressed again is not read after all.
let chosen = null;
document.addEventListener("pointerdown", (e) => {
	const i = e.target.closest("label.chip")?.querySelector("input[type=radio]");
	chosen = i?.checked ? i : null;
});
document.addEventListener("click", (e) => {
	if (chosen && e.target === chosen) chosen.checked = false;
});

document.addEventListener("submit", (e) => {
	if (e.target.method !== "post") return;
	e.preventDefault();
	e.submitter?.classList.add("hit");
	post(e.target, e.submitter);
});

glove.listen(() => load("/", true));

// A key that is held: a fish key counts five at once, a dangerous act is meant. It is done while the finger is still down, since
// a touch screen sends no click after a long press. A keyboard does without.
const holds = [
	["form[data-five]", 900, (form) => {
		navigator.vibrate?.([60, 60, 60]);
		const five = document.createElement("input");
		five.type = "hidden";
		five.name = "count";
		five.value = "5";
		form.append(five);
		post(form, form.querySelector("button")).finally(() => five.remove());
	}],
	["form[data-hold] button", 1500, (key) => key.form.requestSubmit(key)],
];
let holding = 0;
let held = false; // the release of a key that was held is no press of its own
function release() {
	clearTimeout(holding);
	document.querySelector(".holding")?.classList.remove("holding");
}
document.addEventListener("pointerdown", (e) => {
	held = false;
	release();
	for (const [which, long, act] of holds) {
		const key = e.target.closest(which);
		if (!key) continue;
		key.classList.add("holding");
		holding = setTimeout(() => {
			release();
			if (glove.ghost()) return;
			held = true;
			act(key);
		}, long);
	}
});
for (const end of ["pointerup", "pointercancel", "pointerleave"]) document.addEventListener(end, release);
document.addEventListener("contextmenu", (e) => { if (e.target.closest("form[data-five], form[data-hold] button")) e.preventDefault(); });
document.addEventListener("click", (e) => {
	if (held || e.detail === 0 || !e.target.closest("form[data-hold] button")) return;
	e.preventDefault();
	e.stopImmediatePropagation();
	trouble("Hold it for a second and a half.");
}, true);

window.addEventListener("line:ended", () => { if (shown.split(/[?#]/)[0] === "/way") load(shown, false, true); });
window.addEventListener("page:moved", (e) => { shown = pathOf(e.detail.url); history.replaceState(null, "", base + shown); });
window.addEventListener("popstate", () => load(here(), false));
document.addEventListener("visibilitychange", () => { if (!document.hidden && document.body.dataset.refresh) refresh(); });

// begin gives the path with which the app starts: its icon leads back to the page that was shown last, for the day.
async function begin() {
	const path = here();
	if (!path.startsWith("/?from=icon")) return path;
	const [when, last] = await (await engine).remembered().catch(() => [0]);
	return Date.now() - when < 18 * 3600e3 ? last : "/";
}

if (phone) {
	window.addEventListener("phone:trouble", (e) => trouble(e.detail));
	window.addEventListener("phone:state", (e) => { if (e.detail.pulled || e.detail.reopen) refresh(); });
	begin().then((path) => load(path, false)).then(() => engine).then(async (m) => {
		const gone = await m.missing();
		if (gone) {
			m.saved(false);
			trouble(`This phone held ${gone} entries more than it holds now: its storage was emptied. What the server has comes back when it is reached.`);
		}
		return m.ashore();
	}).catch((e) => trouble(e.message));
} else {
	const clean = new URL(location.href);
	clean.searchParams.delete("done");
	clean.searchParams.delete("undone");
	history.replaceState(null, "", clean);
	shown = here();
	arrive();
}
