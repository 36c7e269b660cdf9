// Lets the phone say the way and the turn-back time, with a voice of its own alone: a voice from the network is silent on the ice.

const store = "icehand-say";
const turned = 10; // degrees: about what one steers to with a compass in the hand
const none = "This phone has no English voice of its own: nothing is said. Read it.";

let last = null; // what was said: { change, course }

const on = () => localStorage.getItem(store) === "yes";

// voice gives an English voice that needs no network; undefined for none.
const voice = () => window.speechSynthesis?.getVoices().find((v) => v.localService && v.lang.toLowerCase().startsWith("en"));

// wake fits the page that has come in to the phone, and says it when it has changed and the guide asked for that.
export function wake() {
	const box = document.getElementById("say");
	if (!box) {
		last = null;
		return;
	}
	const has = Boolean(voice());
	box.querySelector(".buttons").hidden = !has;
	tell(has ? "" : none);
	if (!has) return;
	const key = document.getElementById("say-on");
	key.ariaPressed = String(on());
	key.onclick = () => {
		localStorage.setItem(store, on() ? "no" : "yes");
		key.ariaPressed = String(on());
		if (on()) say(box);
		else speechSynthesis.cancel();
	};
	document.getElementById("say-it").onclick = () => say(box);
	if (on() && (!last || last.change !== box.dataset.change || far(last.course, box.dataset.course))) say(box);
}

// far tells whether a course is another one.
function far(a, b) {
	if (a === b) return false;
	if (!a || !b) return true;
	return Math.abs(((b - a + 540) % 360) - 180) >= turned;
}

function tell(words) {
	const state = document.getElementById("say-state");
	if (state) state.textContent = words;
}

function say(box) {
	last = { change: box.dataset.change, course: box.dataset.course };
	const u = new SpeechSynthesisUtterance(box.dataset.say);
	u.voice = voice();
	u.lang = u.voice.lang;
	u.rate = 0.9;
	u.onerror = (e) => { if (e.error !== "canceled" && e.error !== "interrupted") tell("Not said: " + e.error + ". Read it."); };
	speechSynthesis.cancel(); // what is old is not said to its end
	speechSynthesis.speak(u);
}

window.speechSynthesis?.addEventListener?.("voiceschanged", wake);
