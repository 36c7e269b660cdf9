// The app's side of the program in the worker: one window at a time holds the record; a request that is not answered in
// time is put again to a fresh worker, and counts once by the identity its form carries.

import "./battery.js";

const files = document.documentElement.dataset.files;
const patience = 6000; // ms without an answer before the worker is asked whether it is still there
const grace = 12000; // ms within which it has to say so
const longest = 600000; // ms that one request may take, first start and bad line included
const starting = 60000; // ms that a worker may take to start
const most = 3; // times that a request is put
const between = 20000; // ms between two tries to reach the server
const name = "icehand"; // of the lock and the channel

const waiting = new Map(); // requests without an answer, by number
const pings = new Map(); // what to do when the worker says that it is there
let worker = null;
let up = false;
let last = 0;

function start() {
	up = false;
	worker = new Worker(files + "phone/worker.js");
	worker.onmessage = (e) => {
		if (e.data.up) up = true;
		else if (e.data.pong) {
			pings.get(e.data.pong)?.();
			pings.delete(e.data.pong);
		}
		else if (e.data.down) restart(e.data.down);
		else settle(e.data.n, e.data.answer);
	};
	worker.onerror = (e) => { e.preventDefault(); restart(e.message || "The worker has failed."); };
}

function settle(n, answer) {
	const w = waiting.get(n);
	if (!w) return; // answered already
	waiting.delete(n);
	clearTimeout(w.timer);
	w.done(answer);
}

// restart ends the worker and puts all that waits to a new one.
function restart(why) {
	worker?.terminate();
	pings.clear();
	start();
	for (const w of [...waiting.values()]) {
		clearTimeout(w.timer);
		if (w.tries < most) put(w);
		else {
			waiting.delete(w.n);
			w.fail(new Error(why || "no answer"));
		}
	}
}

function put(w) {
	w.tries++;
	w.since = Date.now();
	w.timer = setTimeout(() => doubt(w), up ? patience : starting);
	worker.postMessage({ n: w.n, ask: w.ask });
}

// doubt asks a worker that has not answered whether it works or is stuck.
function doubt(w) {
	if (Date.now() - w.since > longest) return restart("no answer");
	const mark = ++last;
	w.timer = setTimeout(() => restart("no answer"), grace);
	pings.set(mark, () => {
		clearTimeout(w.timer);
		if (waiting.has(w.n)) w.timer = setTimeout(() => doubt(w), patience);
	});
	worker.postMessage({ ping: mark });
}

// call puts something to the program and gives its answer.
async function call(ask) {
	await held;
	if (left) return new Promise(() => {}); // another window holds the record: nothing is asked here any more
	if (!worker) start();
	return new Promise((done, fail) => {
		const w = { n: ++last, ask, done, fail, tries: 0 };
		waiting.set(w.n, w);
		put(w);
	});
}

// ask gets what a path answers, as fetch would from a server.
export async function ask(path, options = {}) {
	const body = options.body === undefined ? "" : String(options.body);
	const put = { method: options.method ?? "GET", path, body, type: body ? "application/x-www-form-urlencoded" : "", cookie: document.cookie };
	let a = await call(put).catch((e) => {
		if (put.method === "POST") saved(false);
		throw e;
	});
	if (a.status === 503) { // the storage may have been taken from a page that lay in the background: a new worker opens it anew
		restart("The storage cannot be reached.");
		a = await call(put);
	}
	for (const c of a.cookies ?? []) document.cookie = c.replace(/path=\/(?=;|$)/i, "Path=/phone");
	if (put.method === "POST" || a.status === 503) saved(a.status < 500);
	note(a.entries);
	if (put.method === "POST" && a.status < 400 && alone && !navigator.onLine) rehearse().catch(() => {}); // it counts the next time
	if (put.method === "POST" && a.status < 400) setTimeout(ashore, 1500);
	const text = () => typeof a.body === "string" ? a.body : new TextDecoder().decode(a.body);
	return {
		ok: a.status >= 200 && a.status < 300, status: a.status, path: a.path, name: a.name, type: a.type,
		text: async () => text(), json: async () => JSON.parse(text()), blob: async () => new Blob([a.body], { type: a.type }),
	};
}

// saved shows in red, over everything, that something is not saved, until something is.
export function saved(yes) {
	document.documentElement.dataset.saved = yes ? "yes" : "no";
}

// note remembers how many entries the phone held, apart from the storage that holds them: should the storage be gone, it is told.
let noted = -1;
function note(entries) {
	if (!entries || entries === noted) return;
	noted = entries;
	document.cookie = "held=" + entries + "; Path=/phone; Max-Age=31536000; SameSite=Lax";
}

// missing gives how many entries the phone held before its storage was emptied; 0 when nothing is missing.
export async function missing() {
	const held = Number(document.cookie.match(/(?:^|; )held=(\d+)/)?.[1] ?? 0);
	const s = await call({ errand: "state" });
	return held > s.entries ? held - s.entries : 0;
}

// One window holds the record. Another one waits until its guide takes it over.
const channel = "BroadcastChannel" in self ? new BroadcastChannel(name) : null;
let letGo = null;
let left = false; // another window has taken it over
let holding = null;
const held = new Promise((go) => { holding = go; });

function hold() {
	if (!navigator.locks) return holding(); // without locks a second writer is refused by the storage itself
	const keep = (lock) => {
		if (!lock) return elsewhere();
		holding();
		return new Promise((release) => { letGo = release; });
	};
	navigator.locks.request(name, { ifAvailable: true }, keep);
	function elsewhere() {
		words("Icehand is open in another window.", "Use it here", () => {
			channel?.postMessage("leave");
			navigator.locks.request(name, keep);
		});
	}
}

channel?.addEventListener("message", async (e) => {
	if (e.data !== "leave" || !letGo) return;
	left = true;
	for (let i = 0; waiting.size && i < 30; i++) await new Promise((r) => setTimeout(r, 100));
	worker?.terminate();
	for (const w of waiting.values()) {
		clearTimeout(w.timer);
		w.fail(new Error("Icehand was opened in another window."));
	}
	waiting.clear();
	letGo();
	letGo = null;
	words("Icehand is now open in another window.", "Use it here", () => location.reload());
});

// words puts a sentence and one key in place of the page.
function words(text, key, press) {
	const p = document.createElement("p"), b = document.createElement("button");
	p.textContent = text;
	p.className = "starting";
	b.textContent = key;
	b.className = "button";
	b.onclick = press;
	document.getElementById("main").replaceChildren(p, b);
}

// ashore brings the record in step with the server's when there is a signal; it never holds anything up.
let reached = 0;
let going = null;
export function ashore(now) {
	if (going) return going;
	if (!now && (!navigator.onLine || Date.now() - reached < between)) return Promise.resolve(null);
	reached = Date.now();
	going = call({ errand: "sync" }).finally(() => { going = null; });
	going.then((s) => window.dispatchEvent(new CustomEvent("phone:state", { detail: s })), () => {});
	return going;
}

// state tells how the record stands, without asking the server.
export const state = () => call({ errand: "state" });

// The file by which a day goes to another phone: made, and taken from one.
export const mostFile = 64 << 20; // bytes; the program holds to it
export const handOver = () => call({ errand: "hand over" });
export async function takeOver(data) {
	const r = await call({ errand: "take over", data });
	if (!r.trouble) note((await state()).entries);
	return r;
}

// The page that was shown last, kept so that it outlives the end of the battery: a browser writes localStorage seconds late.
let notes = null;
const at = async (mode) => (await (notes ??= new Promise((done, fail) => {
	const q = indexedDB.open("icehand-at", 1);
	q.onupgradeneeded = () => q.result.createObjectStore("at");
	q.onsuccess = () => done(q.result);
	q.onerror = () => fail(q.error);
}))).transaction("at", mode).objectStore("at");

export async function remember(path) {
	(await at("readwrite")).put([Date.now(), path], "at");
}

export async function remembered() {
	const q = (await at("readonly")).get("at");
	return new Promise((done, fail) => {
		q.onsuccess = () => done(q.result ?? [0]);
		q.onerror = () => fail(q.error);
	});
}

// The rehearsal of the evening before: the app was started without signal, and something was saved while there was none.
const alone = !navigator.onLine;

async function rehearse() {
	(await at("readwrite")).put(Date.now(), "rehearsed");
}

export async function rehearsed() {
	const q = (await at("readonly")).get("rehearsed");
	return new Promise((done, fail) => {
		q.onsuccess = () => done(q.result ?? 0);
		q.onerror = () => fail(q.error);
	});
}

// Files for days without signal, and a new version only when the guide asks for it.
export const offered = { version: "", worker: null };

async function keepFiles() {
	if (!navigator.serviceWorker) {
		window.dispatchEvent(new CustomEvent("phone:trouble", { detail: isSecureContext ? "This browser keeps no app: Icehand will not start without signal here. Use another browser, not a private window."
			: "Icehand will not start without signal from this address: it must begin with https." }));
		return;
	}
	const reg = await navigator.serviceWorker.register("/phone/sw.js", { scope: "/phone/", updateViaCache: "none" });
	const look = () => {
		for (const w of [reg.waiting, reg.active]) if (w) tell(w, "version").then((v) => {
			if (v.kept === v.offered) return;
			offered.version = v.offered;
			offered.worker = w;
			window.dispatchEvent(new CustomEvent("phone:offered"));
		});
	};
	reg.addEventListener("updatefound", () => reg.installing?.addEventListener("statechange", look));
	look();
}

// kept gives the version of the files that are kept on this phone; "" when none are.
export async function kept() {
	const reg = await navigator.serviceWorker?.getRegistration("/phone/");
	return reg?.active ? (await tell(reg.active, "version")).kept ?? "" : "";
}

function tell(w, what) {
	return new Promise((done) => {
		const c = new MessageChannel();
		c.port1.onmessage = (e) => done(e.data);
		w.postMessage(what, [c.port2]);
	});
}

// update takes the offered version into use.
export async function update() {
	if (!offered.worker) return;
	await tell(offered.worker, "update");
	location.reload();
}

hold();
keepFiles().catch((e) => window.dispatchEvent(new CustomEvent("phone:trouble", { detail: "The app's files could not be kept for days without signal. " + e.message })));
window.addEventListener("online", () => ashore());
document.addEventListener("visibilitychange", () => { if (!document.hidden) ashore(); });
navigator.storage?.persist?.().catch(() => {}); // asked each time: browsers grant it when the app is used
