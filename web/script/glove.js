// For hands in gloves: touches that no finger meant are passed over, a paired clicker presses keys, and what is saved can
// be felt and heard.

const shortest = 40; // ms: water and snow touch more briefly than a finger
const fingers = 3; // more at once are a palm or a wet screen
const burst = 6; // touches in a second; more are rain

// Acts a clicker can be bound to: the word, and the key of Now that it presses.
export const acts = [
	["fish", "Fish put back", 'form[action="/fish"]:has([name="kept"][value="no"])'],
	["empty", "Empty hole", 'form[action="/look"]:has([name="marks"][value="none"])'],
	["few", "Few marks", 'form[action="/look"]:has([name="marks"][value="few"])'],
];

const store = "icehand-clicker";
const bound = () => JSON.parse(localStorage.getItem(store) ?? "{}");

let binding = ""; // the act whose key is asked for
let tell = null;

// bind takes the next key that the clicker sends for an act.
export function bind(act, done) {
	binding = act;
	tell = done;
}

// keyOf names the key that is bound to an act; "" for none.
export const keyOf = (act) => bound()[act] ?? "";

// listen lets the clicker press keys; toNow shows Now when another page is shown.
export function listen(toNow) {
	document.addEventListener("keydown", async (e) => {
		const key = e.code || e.key;
		if (!key || e.repeat) return;
		if (binding) {
			e.preventDefault();
			const all = bound();
			for (const a in all) if (all[a] === key) delete all[a]; // one key, one act
			all[binding] = key;
			localStorage.setItem(store, JSON.stringify(all));
			binding = "";
			tell?.();
			return;
		}
		const act = acts.find((a) => bound()[a[0]] === key);
		if (!act || e.target.closest?.("input, select, textarea")) return;
		e.preventDefault();
		if (!document.querySelector(".keys " + act[2])) await toNow();
		document.querySelector(".keys " + act[2])?.querySelector("button").click();
	});
}

// felt tells the hand and the ear that an act is saved: fish two pulses and the higher tone, all else one and the lower.
// Both tones are low enough for a hat over the ears.
let sound = null;
export function felt(path) {
	const fish = path.startsWith("/fish");
	navigator.vibrate?.(fish ? [60, 60, 60] : 60);
	try {
		sound ??= new AudioContext();
		if (sound.state === "suspended") sound.resume();
		const tone = sound.createOscillator(), loud = sound.createGain(), at = sound.currentTime;
		tone.frequency.value = fish ? 880 : 440;
		loud.gain.setValueAtTime(0.3, at);
		loud.gain.exponentialRampToValueAtTime(0.001, at + 0.15);
		tone.connect(loud).connect(sound.destination);
		tone.start(at);
		tone.stop(at + 0.15);
	} catch { /* no sound on this device: the page and the hand tell it all the same */ }
}

// Touches that no finger meant. A mouse and a keyboard are never passed over.
const down = new Map(); // contacts now, by number: when they began
let recent = []; // when the last touches began
let bad = false; // the touches now are not a finger's
let quiet = 0; // until when a burst is waited out

// ghost tells whether the touches now are not a finger's.
export const ghost = () => bad;

document.addEventListener("pointerdown", (e) => {
	if (e.pointerType !== "touch") return;
	const now = e.timeStamp;
	if (e.isPrimary) down.clear(); // the first of new contacts: an end that was never told must not count for ever
	if (!down.size) bad = false;
	down.set(e.pointerId, now);
	recent = [...recent.filter((t) => now - t < 1000), now];
	if (recent.length > burst) quiet = now + 1000;
	if (down.size > fingers || now < quiet) bad = true;
}, true);
for (const end of ["pointerup", "pointercancel"]) document.addEventListener(end, (e) => {
	if (e.pointerType !== "touch") return;
	const began = down.get(e.pointerId);
	if (began !== undefined && e.timeStamp - began < shortest) bad = true;
	down.delete(e.pointerId);
}, true);
document.addEventListener("click", (e) => {
	if (!bad || e.pointerType !== "touch") return;
	e.preventDefault();
	e.stopImmediatePropagation();
}, true);
