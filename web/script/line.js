// Records the line that the phone travels, from an explicit start to an explicit stop: fixes with their accuracy and age are kept in this browser
// until the record has taken them, and are sent in parts. Poor fixes are sent too, as what they are. A phone with its screen off gives none: gaps show.

import { uuid7 } from "./act.js";
import { ask } from "./host.js";

const store = "icehand-line";
const every = 30000; // ms between parts
const most = 600; // fixes in a part
const apart = 4000; // ms between fixes that are kept
const late = 30000; // ms without a fix that count as none

let state = read(); // { of, purpose, people, on, waiting: [[ms, lat, lon, accuracy]], part, taken, poor }
let watch = 0;
let timer = 0;
let sending = false;
let last = null; // the newest fix
let says = ""; // why there is none, or why a part was not taken

function read() {
	try {
		return JSON.parse(localStorage.getItem(store));
	} catch {
		return null;
	}
}

// keep writes the state down; false when the browser has no room for it.
function keep() {
	try {
		if (state) localStorage.setItem(store, JSON.stringify(state));
		else localStorage.removeItem(store);
		return true;
	} catch {
		says = "This browser has no room left: stop, and record on paper.";
		return false;
	}
}

// wake shows the state on the page that has come in, and goes on where a closed page left off.
export function wake() {
	for (const b of document.querySelectorAll("[data-line]")) b.onclick = () => begin(b.dataset.line);
	const keys = document.getElementById("line-keys");
	if (keys) keys.hidden = !navigator.geolocation || Boolean(state);
	const key = document.getElementById("line-stop");
	if (key) key.onclick = press;
	if (state && !timer) run();
	show();
}

function begin(purpose) {
	if (state) return;
	const people = [...document.querySelectorAll("#line-people input:checked")].map((i) => i.value);
	const of = uuid7();
	state = { of, part: of, purpose, people, on: true, waiting: [], taken: 0, poor: 0 };
	keep();
	wake();
}

function run() {
	if (state.on) {
		watch = navigator.geolocation.watchPosition(
			(p) => {
				const f = [p.timestamp, p.coords.latitude, p.coords.longitude, p.coords.accuracy ?? 0];
				const soon = last && f[0] - last[0] < apart;
				if (!state || soon) return;
				last = f;
				says = "";
				state.waiting.push(f);
				keep();
				show();
			},
			(e) => {
				says = e.code === 1 ? "The phone may not tell its place: allow it in the browser's settings." : "No fix.";
				show();
			},
			{ enableHighAccuracy: true, maximumAge: 0, timeout: late });
	}
	timer = setInterval(() => { send(); }, every);
	send();
}

async function stop() {
	if (!state) return;
	state.on = false;
	navigator.geolocation.clearWatch(watch);
	keep();
	await send();
}

// end forgets the line once all of it is taken.
function end() {
	clearInterval(timer);
	timer = 0;
	state = null;
	last = null;
	keep();
	wake();
	window.dispatchEvent(new CustomEvent("line:ended"));
}

// send gives what waits to the record. What was not taken stays, under the same identity, so that it counts once.
async function send() {
	if (sending || !state) return;
	if (!state.waiting.length) {
		if (!state.on) end();
		return;
	}
	sending = true;
	const part = state.waiting.slice(0, state.size ?? most);
	state.size = part.length; // a part that is sent again is the same part
	keep();
	try {
		const now = Date.now();
		const data = new URLSearchParams({ id: state.part, of: state.of, purpose: state.purpose,
			fixes: part.map((f) => [Math.max(0, now - f[0]), f[1], f[2], f[3]].join(" ")).join(";") });
		for (const p of state.people) data.append("people", p);
		const r = await ask("/line", { method: "POST", body: data, signal: AbortSignal.timeout(10000) });
		if (r.ok) {
			const taken = await r.json();
			state.taken += taken.fixes;
			state.poor += taken.poor;
			state.waiting.splice(0, part.length);
			state.part = uuid7();
			delete state.size;
			says = "";
		} else {
			const page = new DOMParser().parseFromString(await r.text(), "text/html");
			says = "Not saved: " + (page.querySelector(".fault p")?.textContent ?? "status " + r.status);
			if (r.status < 500) state.refused = true;
		}
	} catch {
		says = "Not saved yet: no answer. Kept in this phone.";
	} finally {
		sending = false;
	}
	keep();
	if (state && !state.waiting.length && !state.on) end();
	else show();
}

const words = { out: "the way out", home: "the way home", scouting: "scouting" };

function show() {
	const bar = document.getElementById("line"), key = document.getElementById("line-stop");
	bar.hidden = !state;
	if (key) {
		key.hidden = !state;
		if (state) key.textContent = state.on ? "Stop recording" : state.refused ? "Drop the rest" : "Send the rest";
	}
	if (state) bar.textContent = told().join(" · ");
}

// told says what is recorded, and how good and how old the newest fix is.
function told() {
	const out = [(state.on ? "Recording " : "Stopped ") + words[state.purpose]];
	if (says) out.push(says);
	else if (state.on && !last) out.push("no fix yet");
	else if (state.on) {
		const us = document.body.dataset.units === "us";
		out.push(last[3] ? "within " + Math.ceil(us ? last[3] * 3.28084 : last[3]) + (us ? " ft" : " m") : "accuracy not told", Math.round((Date.now() - last[0]) / 1000) + " s ago");
	}
	out.push(state.taken + state.waiting.length + " fixes" + (state.poor ? ", " + state.poor + " poor and left out" : ""));
	return out;
}

function press() {
	if (state?.on) stop();
	else if (state?.refused) end();
	else send();
}

setInterval(() => { if (state && !document.hidden) show(); }, 5000);
