// Lets the time of a rehearsed day be dragged and played. Without it the same day is stepped through by links, and the
// slider's form shows a time when it is sent.

const pace = 350; // ms that a moment is shown while the day plays

let playing = 0;
let asked = 0; // moments asked for; an answer that comes late is dropped

// The page may put other nodes in place of these at any swap, so they are looked up whenever they are needed.
const form = () => document.getElementById("rehearsal-time");
const slider = () => document.getElementById("rehearsal-at");
const play = () => document.getElementById("rehearsal-play");

// wake shows what needs a script. It is called whenever the page has come in anew.
export function wake() {
	play().hidden = false;
	document.getElementById("rehearsal-show").hidden = true;
}

document.addEventListener("input", (e) => {
	if (e.target !== slider()) return;
	stop();
	moment();
});

document.addEventListener("click", (e) => {
	if (!e.target.closest("#rehearsal-play")) return;
	if (playing) return stop();
	if (slider().value === slider().max) slider().value = slider().min;
	play().textContent = "Pause";
	playing = setTimeout(step, 0);
});

window.addEventListener("page:leave", () => { asked++; stop(); });

function stop() {
	clearTimeout(playing);
	playing = 0;
	if (play()) play().textContent = "Play";
}

async function step() {
	const mine = playing;
	slider().stepUp();
	await moment();
	if (playing !== mine) return; // paused meanwhile
	if (slider().value === slider().max) return stop();
	playing = setTimeout(step, document.hidden ? 4 * pace : pace);
}

// moment puts the chosen time's part in place of the one that is shown.
async function moment() {
	const n = ++asked;
	const ask = new URLSearchParams(new FormData(form()));
	const page = form().action + "?" + ask;
	try {
		const r = await fetch(form().dataset.moment + "?" + ask, { signal: AbortSignal.timeout(10000) });
		const html = await r.text();
		if (n !== asked) return;
		if (!r.ok) return location.assign(page); // the day is not kept any more: the page says so
		document.getElementById("rehearsal-moment").replaceWith(new DOMParser().parseFromString(html, "text/html").getElementById("rehearsal-moment"));
		window.dispatchEvent(new CustomEvent("page:moved", { detail: { url: page } }));
	} catch (e) {
		if (n === asked) location.assign(page);
	}
}
