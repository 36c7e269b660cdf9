// Looks after the battery: at 25 % without a charger the app goes over to its pages for a low battery, and back when there is
// charge again. What the guide chose by hand stands until then. Browsers that tell no charge leave it to the switch on Help.

const low = 0.25;
const enough = 0.3; // so that it does not go to and fro

const chosen = () => document.cookie.match(/(?:^|; )power=(\w+)/)?.[1] ?? "";

function choose(what) {
	document.cookie = what ? "power=" + what + "; Path=/phone; Max-Age=86400; SameSite=Lax" : "power=; Path=/phone; Max-Age=0";
	window.dispatchEvent(new CustomEvent("phone:state", { detail: { reopen: true } })); // the page that is shown comes anew
}

let battery = null;
let was = "";

// charge tells in words how full the battery is; "" when the browser does not tell.
export const charge = () => battery ? Math.round(battery.level * 100) + " %" + (battery.charging ? ", charging" : "") : "";

function look() {
	const is = !battery.charging && battery.level <= low ? "low" : battery.charging || battery.level >= enough ? "enough" : was;
	const now = chosen();
	if (is === "low" && !now) choose("auto");
	else if (is === "enough" && (now === "auto" || now === "full")) choose("");
	was = is;
}

navigator.getBattery?.().then((b) => {
	battery = b;
	b.addEventListener("levelchange", look);
	b.addEventListener("chargingchange", look);
	look();
}, () => {}); // not allowed here: by hand, then
