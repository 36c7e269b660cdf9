// Gives the day to another phone as one file, or takes it from one. The program in the worker writes and reads the file.

import * as engine from "./engine.js";

const part = (key) => document.querySelector(`[data-hand=${key}]`);

function say(words) {
	const box = part("words");
	if (box) box.textContent = words.charAt(0).toUpperCase() + words.slice(1);
}

const entries = (n) => n === 1 ? "1 entry" : n + " entries";
const size = (bytes) => bytes < 1e6 ? Math.ceil(bytes / 1e3) + " kB" : (bytes / 1e6).toFixed(1) + " MB";

// make writes the file and offers to send it. Sending is a key of its own: a browser opens its sheet only right after a touch.
async function make() {
	part("made").hidden = true;
	say("The file is being made …");
	const r = await engine.handOver();
	if (r.trouble) return say(r.trouble);
	const file = new File([r.data], r.name, { type: "text/plain" });
	const clock = new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
	say(`${r.name}: ${entries(r.entries)}, ${size(file.size)}. What is logged here after ${clock} is not in it.`);
	part("send").hidden = !navigator.canShare?.({ files: [file] });
	part("send").onclick = () => navigator.share({ files: [file] }).then(
		() => say("Sent. On the other phone: Help, This phone, Take over from a file."),
		(e) => say("Not sent. Try again, or save it as a file. " + e.message));
	part("save").onclick = () => {
		const to = document.createElement("a");
		to.href = URL.createObjectURL(file);
		to.download = r.name;
		to.click();
		setTimeout(() => URL.revokeObjectURL(to.href), 60000);
		say(`${r.name} lies with this phone's downloads. Send it to the other phone; there: Help, This phone, Take over from a file.`);
	};
	part("made").hidden = false;
}

// take reads a file of the other phone.
async function take(file) {
	part("now").hidden = true;
	say("The file is being read …");
	let data;
	try {
		data = file.size > engine.mostFile ? new Uint8Array(engine.mostFile + 1) : new Uint8Array(await file.arrayBuffer());
	} catch (e) {
		return say("The file cannot be opened. Save it on this phone first, then take it from there. " + e.message);
	}
	const r = await engine.takeOver(data);
	if (r.trouble) return say(r.trouble);
	say(r.new ? `Taken over: ${entries(r.entries)} in the file, ${r.new} of them new here. Count heads before you go on.` : `All ${entries(r.entries)} of the file were here already.`);
	part("now").hidden = false;
}

// wake wires the keys of the page This phone.
export function wake() {
	if (!part("make")) return;
	const fails = (e) => say("It did not work: " + e.message);
	part("make").onclick = () => make().catch(fails);
	part("take").onclick = () => part("file").click();
	part("file").onchange = (e) => {
		const [file] = e.target.files;
		e.target.value = ""; // so that the same file can be chosen again
		if (file) take(file).catch(fails);
	};
}
