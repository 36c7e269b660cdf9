// The strip that takes back what was just done: it stands for half a minute, whatever page is shown meanwhile.

const long = 30000; // ms

let strip = null;
let until = 0;
let timer = 0;

// lift takes the strip off the page before the next one comes in; one that comes with it takes its place.
export function lift(next) {
	const own = next.getElementById("undo");
	if (own) begin(own);
	strip?.remove();
}

function begin(own) {
	drop();
	strip = own;
	until = Date.now() + long;
}

// stand puts it above the keys of Now, else above the pages' bar. A page without that bar is for other eyes.
export function stand() {
	const own = document.getElementById("undo");
	if (own && own !== strip) begin(own); // the page was loaded as a whole
	if (!strip) return;
	const left = until - Date.now(), grip = document.querySelector(".now .grip"), nav = document.getElementById("nav");
	if (left <= 0) return drop();
	if (grip) grip.prepend(strip);
	else if (nav) nav.before(strip);
	clearTimeout(timer);
	timer = setTimeout(drop, left);
}

// drop ends it.
export function drop() {
	clearTimeout(timer);
	strip?.remove();
	strip = null;
}
