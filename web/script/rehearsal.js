// Lets the time of a rehearsed day be dragged and played. Without it the same day is stepped through by links, and the
// slider's form shows a time when it is sent.

const pace = 350; // ms that a moment is shown while the day plays
const heard = new WeakSet(); // forms that have their listeners

let playing = 0;
let asked = 0; // moments asked for; an answer that comes late is dropped

// wake gives the form of a day its slider and its key Play. It is called whenever the page has come in anew.
export function wake(form) {
	const slider = form.elements.namedItem("at");
	const play = form.querySelector("[data-play]");
	play.hidden = false;
	form.querySelector("[data-show]").hidden = true;
	if (heard.has(form)) return;
	heard.add(form);
	slider.addEventListener("input", () => { stop(); moment(form, slider); });
	play.addEventListener("click", () => {
		if (playing) return stop();
		if (slider.value === slider.max) slider.value = slider.min;
		play.textContent = "Pause";
		playing = setTimeout(() => step(form, slider), 0);
	});
}

window.addEventListener("page:leave", () => { asked++; stop(); });

function stop() {
	clearTimeout(playing);
	playing = 0;
	const play = document.querySelector("#rehearsal-time [data-play]");
	if (play) play.textContent = "Play";
}

async function step(form, slider) {
	const mine = playing;
	slider.stepUp();
	await moment(form, slider);
	if (playing !== mine) return; // paused meanwhile
	if (slider.value === slider.max) return stop();
	playing = setTimeout(() => step(form, slider), document.hidden ? 4 * pace : pace);
}

// moment puts the chosen time's part in place of the one that is shown.
async function moment(form, slider) {
	const n = ++asked;
	const ask = new URLSearchParams(new FormData(form));
	const page = form.action + "?" + ask;
	try {
		const r = await fetch(form.dataset.moment + "?" + ask, { signal: AbortSignal.timeout(10000) });
		const html = await r.text();
		if (n !== asked) return;
		if (!r.ok) return location.assign(page); // the day is not kept any more: the page says so
		document.getElementById("rehearsal-moment").replaceWith(new DOMParser().parseFromString(html, "text/html").getElementById("rehearsal-moment"));
		window.dispatchEvent(new CustomEvent("page:moved", { detail: { url: page } }));
	} catch (e) {
		if (n === asked) location.assign(page);
	}
}
