// The lock for the pocket: while it is on, no touch does anything but a slide along half the bar, or the key Help. The turn-back time and the page stay
// in sight, and a paired clicker works.

import { ghost } from "./glove.js";

const store = "icehand-lock";
const pass = "#lock, #nav a[href$='/help']"; // what a touch reaches all the same

let bar = null;
let idle = 0;

const locked = () => "locked" in document.documentElement.dataset;

// after gives the minutes without a touch after which the phone locks itself; 0 for never.
export const after = () => Number(localStorage.getItem(store)) || 0;

// choose sets them.
export function choose(minutes) {
	localStorage.setItem(store, String(minutes));
	wait();
}

// wait begins to wait for the next touch.
function wait() {
	clearTimeout(idle);
	if (after() && !locked()) idle = setTimeout(lock, after() * 60000);
}

function lock() {
	if (locked() || !document.getElementById("nav")) return; // a page for other eyes has nothing to press
	document.documentElement.dataset.locked = "";
	stand();
	bar.querySelector("button").focus({ preventScroll: true });
}

function open() {
	delete document.documentElement.dataset.locked;
	bar.remove();
	bar = null;
	wait();
}

// stand puts the bar onto the page that has come in, and wakes its key.
export function stand() {
	const key = document.getElementById("lock-key");
	if (key) key.onclick = lock;
	if (!locked()) return;
	bar ??= made();
	if (bar.parentElement !== document.body) document.body.append(bar);
}

function made() {
	const box = document.createElement("section"), words = document.createElement("h2"), track = document.createElement("div"), handle = document.createElement("button");
	box.id = "lock";
	box.setAttribute("aria-label", "Lock");
	words.textContent = "Locked";
	track.className = "slide";
	handle.type = "button";
	handle.textContent = "Slide to open";
	track.append(handle);
	box.append(words, track);
	let at = null; // where the slide began
	const way = document.documentElement.classList.contains("left") ? -1 : 1;
	const gone = (e) => (e.clientX - at.x) * way;
	handle.addEventListener("pointerdown", (e) => {
		if (at) return;
		at = { x: e.clientX, id: e.pointerId };
		handle.setPointerCapture(e.pointerId);
	});
	handle.addEventListener("pointermove", (e) => {
		if (at?.id !== e.pointerId) return;
		handle.style.translate = way * Math.max(0, Math.min(track.clientWidth - handle.offsetWidth, gone(e))) + "px";
	});
	handle.addEventListener("pointerup", (e) => {
		if (at?.id !== e.pointerId) return;
		const far = gone(e) >= track.clientWidth / 2;
		at = null;
		handle.style.translate = "";
		if (far && !ghost()) open();
	});
	handle.addEventListener("pointercancel", () => {
		at = null;
		handle.style.translate = "";
	});
	handle.addEventListener("touchstart", (e) => e.preventDefault(), { passive: false }); // else the browser takes the slide for a swipe, and the next touch for its end
	handle.addEventListener("click", (e) => { if (e.detail === 0) open(); }); // a keyboard cannot slide
	return box;
}

// While it is locked, touches and keys that a person sends reach nothing else; a clicker's act is sent by the script.
for (const type of ["pointerdown", "mousedown", "click", "contextmenu"]) document.addEventListener(type, (e) => {
	if (!locked() || !e.isTrusted || e.target.closest?.(pass)) return;
	if (type !== "pointerdown") e.preventDefault();
	e.stopImmediatePropagation();
}, true);

document.addEventListener("pointerup", (e) => { if (e.pointerType !== "touch" || !ghost()) wait(); }, true);
document.addEventListener("keydown", (e) => { if (e.target.closest?.("input, select, textarea")) wait(); }, true);
wait();
