// Fills in on the page This phone what only the browser knows.

import { charge } from "./battery.js";
import * as engine from "./engine.js";
import * as glove from "../script/glove.js";
import * as lock from "../script/lock.js";
import * as handover from "./handover.js";

const put = (key, words) => {
	const cell = document.querySelector(`[data-app=${key}]`);
	if (cell) cell.textContent = words;
};

const size = (bytes) => bytes >= 1e9 ? (bytes / 1e9).toFixed(1) + " GB" : Math.round(bytes / 1e6) + " MB";

function stood(s) {
	if (!s) return;
	const waits = s.waiting > 0 ? s.waiting + (s.waiting === 1 ? " entry waits" : " entries wait") : s.waiting === 0 ? "nothing waits" : "not known what waits";
	put("step", s.trouble || (s.when ? waits + ", last " + new Date(s.when).toLocaleString() : s.paired ? waits : "not paired"));
	if (s.sent) put("pushed", new Date(s.sent).toLocaleString());
	else if (s.paired) put("pushed", "nothing yet");
	if (s.when) {
		const by = Math.round(Math.abs(s.offset) / 1000), at = ", at " + new Date(s.when).toLocaleString();
		put("clock", (by < 2 ? "the same" : `the server is ${by} s ${s.offset > 0 ? "ahead" : "behind"}${by >= 120 ? ": set this phone's clock" : ""}`) + at);
	}
}

// clicker lists the acts that a paired clicker can do, and takes its keys.
function clicker() {
	const box = document.getElementById("clicker");
	if (!box) return;
	box.replaceChildren(...glove.acts.map(([act, word]) => {
		const b = document.createElement("button");
		b.type = "button";
		b.className = "button";
		b.textContent = word + ": " + (glove.keyOf(act) || "no key");
		b.onclick = () => {
			b.textContent = word + ": press its key";
			b.blur();
			glove.bind(act, clicker);
		};
		return b;
	}));
}

// locks lists after how many minutes without a touch the phone may lock itself.
function locks() {
	const box = document.getElementById("lock-after");
	if (!box) return;
	box.replaceChildren(...[0, 1, 2, 5].map((minutes) => {
		const b = document.createElement("button");
		b.type = "button";
		b.className = "button";
		b.textContent = minutes ? "after " + minutes + " min" : "never";
		b.ariaPressed = String(lock.after() === minutes);
		b.onclick = () => {
			lock.choose(minutes);
			locks();
		};
		return b;
	}));
}

// show fills the page in, and wires its keys.
export async function show() {
	clicker();
	locks();
	handover.wake();
	put("window", matchMedia("(display-mode: standalone)").matches || navigator.standalone ? "the installed app" : "a browser window: install it to keep its storage");
	put("battery", charge() || "not told by this browser: at 25 % press Help, Battery, low");
	const s = navigator.storage;
	if (s?.persisted) put("protected", await s.persisted() ? "yes" : "no: the browser may empty it. Install the app, and open it often");
	else put("protected", "no: this browser cannot promise it");
	if (s?.estimate) {
		const e = await s.estimate();
		put("room", size(e.usage) + " used, " + size(e.quota - e.usage) + " left" + (e.quota < 1e9 ? ". That little may be a private window, which forgets everything when it is closed" : ""));
	}
	const rehearsed = await engine.rehearsed();
	if (rehearsed) put("rehearsed", new Date(rehearsed).toLocaleString());
	const kept = await engine.kept();
	put("files", kept ? "version " + kept : "none: Icehand will not start without signal");
	const offer = () => {
		const key = document.querySelector("[data-app=update]");
		if (!key || !engine.offered.version) return;
		key.hidden = false;
		key.onclick = () => engine.update();
	};
	offer();
	window.addEventListener("phone:offered", offer);
	const key = document.querySelector("[data-app=sync]");
	if (key) key.onclick = async () => {
		put("step", "asking …");
		stood(await engine.ashore(true));
	};
	stood(await engine.state());
	const gone = await engine.missing();
	const box = document.querySelector("[data-app=missing]");
	if (box && gone) {
		box.textContent = `This phone held ${gone} entries more than it holds now: its storage was emptied. Bring ashore now fetches what the server has.`;
		box.hidden = false;
	}
}
