// Voice memos: raw sound tied to a time and a hole, kept in this browser alone. They are no part of the record: nothing of them
// is sent, handed over or reported. Each part is on the disk before the next one comes, so that a battery that dies takes the
// last two seconds.

import { uuid7 } from "../script/act.js";
import * as glove from "../script/glove.js";

const part = 2000; // ms of sound that are kept together
const rate = 24000; // bit a second: speech, 180 kB a minute

let opened = null;
const db = () => opened ??= new Promise((done, fail) => {
	const q = indexedDB.open("icehand-memos", 1);
	q.onupgradeneeded = () => {
		q.result.createObjectStore("memos", { keyPath: "id" });
		q.result.createObjectStore("parts");
	};
	q.onsuccess = () => {
		q.result.onclose = () => { opened = null; };
		done(q.result);
	};
	q.onerror = () => fail(q.error);
});

// change writes in one transaction and is done when the disk has confirmed it.
async function change(f) {
	const t = (await db()).transaction(["memos", "parts"], "readwrite", { durability: "strict" });
	f(t.objectStore("memos"), t.objectStore("parts"));
	return new Promise((done, fail) => {
		t.oncomplete = done;
		t.onabort = () => fail(t.error ?? new Error("the browser gave it up"));
	});
}

async function read(store, query) {
	const q = (await db()).transaction(store).objectStore(store).getAll(query);
	return new Promise((done, fail) => {
		q.onsuccess = () => done(q.result);
		q.onerror = () => fail(q.error);
	});
}

const partsOf = (id) => IDBKeyRange.bound([id, 0], [id, Infinity]);

// list gives all memos, the newest first.
export const list = async () => (await read("memos")).sort((a, b) => b.at - a.at);

const box = () => document.getElementById("memos");
const long = (ms) => Math.floor(ms / 60000) + ":" + String(Math.floor(ms / 1000) % 60).padStart(2, "0");

function say(words) {
	const p = document.querySelector("[data-memo=words]");
	if (p) p.textContent = words;
}

let now = null; // what is being recorded
let asked = false; // the microphone is being asked for: a second press meanwhile is no second memo

async function begin() {
	const most = Number(box().dataset.seconds) * 1000, room = Number(box().dataset.bytes);
	const used = (await list()).reduce((n, m) => n + m.bytes, 0);
	if (used + most / 8000 * rate > room) return say("The memos are full: delete one first.");
	const sound = await navigator.mediaDevices.getUserMedia({ audio: true });
	const type = ["audio/webm;codecs=opus", "audio/mp4"].find((x) => MediaRecorder.isTypeSupported(x)) ?? "";
	const memo = { id: uuid7(), at: Date.now(), hole: box().dataset.hole, name: box().dataset.name, type, ms: 0, bytes: 0, whole: false };
	const m = new MediaRecorder(sound, { mimeType: type, audioBitsPerSecond: rate });
	now = { memo, stop: () => m.state !== "inactive" && m.stop() };
	let n = 0, written = Promise.resolve();
	m.ondataavailable = (e) => {
		written = written.then(async () => {
			const bytes = await e.data.arrayBuffer();
			memo.ms = Date.now() - memo.at;
			memo.bytes += bytes.byteLength;
			memo.whole = m.state === "inactive";
			await change((memos, parts) => {
				memos.put({ ...memo });
				if (bytes.byteLength) parts.put(bytes, [memo.id, n++]);
			});
		});
		written.catch(() => now?.stop());
	};
	const clock = setInterval(() => {
		const ms = Date.now() - memo.at;
		if (ms >= most) now?.stop();
		else show();
	}, 250);
	m.onstop = async () => {
		clearInterval(clock);
		for (const t of sound.getTracks()) t.stop();
		now = null;
		try {
			await written;
			glove.felt("/memo");
			say(`Saved on this phone: ${long(memo.ms)}${memo.name ? ", hole " + memo.name : ""}.`);
		} catch (e) {
			say("Not saved whole: " + e.message + " What is listed is kept.");
		}
		draw();
	};
	m.start(part);
	show();
}

function show() {
	const key = document.querySelector("[data-memo=record]");
	if (!key) return;
	key.textContent = now ? `Stop, ${long(Date.now() - now.memo.at)}` : "Record";
	key.setAttribute("aria-pressed", now ? "true" : "false");
}

let playing = null;
async function play(memo) {
	playing?.pause();
	const sound = new Blob(await read("parts", partsOf(memo.id)), { type: memo.type });
	playing = new Audio(URL.createObjectURL(sound));
	playing.onended = () => URL.revokeObjectURL(playing.src);
	await playing.play();
	say("Playing " + clock(memo) + ".");
}

const clock = (m) => new Date(m.at).toLocaleString([], { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });

function row(memo) {
	const div = document.createElement("div"), words = document.createElement("p"), keys = document.createElement("div"), hear = document.createElement("button"), form = document.createElement("form"), gone = document.createElement("button");
	div.className = "row";
	div.dataset.memo = memo.id;
	words.textContent = `${clock(memo)}, ${memo.name ? "hole " + memo.name + ", " : ""}${long(memo.ms)}${memo.whole || memo.id === now?.memo.id ? "" : ", cut off"}`;
	keys.className = "buttons";
	hear.className = gone.className = "button";
	hear.type = "button";
	hear.textContent = "Play";
	hear.onclick = () => play(memo).catch((e) => say("It cannot be played. " + e.message));
	form.dataset.hold = "";
	gone.type = "submit";
	gone.textContent = "Hold to delete";
	form.append(gone);
	form.onsubmit = async (e) => {
		e.preventDefault();
		await change((memos, parts) => { memos.delete(memo.id); parts.delete(partsOf(memo.id)); }).then(() => say("Deleted."), (x) => say("Not deleted. " + x.message));
		draw();
	};
	keys.append(hear, form);
	div.append(words, keys);
	return div;
}

// draw lists the memos.
async function draw() {
	show();
	const to = document.querySelector("[data-memo=list]");
	if (to) to.replaceChildren(...(await list()).map(row));
}

// wake wires the page Memos.
export function wake() {
	const fails = (e) => {
		now = null;
		say(e.name === "NotAllowedError" || e.name === "NotFoundError" ? "There is no microphone for this app: allow it in the phone's settings. " + e.message : "It could not be recorded. " + e.message);
		show();
	};
	if (!navigator.mediaDevices || !self.MediaRecorder) say("This browser records no sound.");
	document.querySelector("[data-memo=record]").onclick = () => {
		if (now) return now.stop();
		if (asked) return;
		asked = true;
		begin().catch(fails).finally(() => { asked = false; });
	};
	draw().catch((e) => say("The memos cannot be read. " + e.message));
}

window.addEventListener("page:leave", (e) => { if (!e.detail.same) now?.stop(); });
