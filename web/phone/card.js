// Draws the rescue card as a picture for the phone's lock screen. Its words are those of the page Help that is shown: number,
// landing and what to say. Where the party is stays out of it: a lock screen is read by anybody, and the place would be old.

const top = 0.26; // share of the height that the phone's own clock and messages cover. Common practice, no source
const bottom = 0.1;
const largest = 1 / 18, smallest = 1 / 40; // height of type against the width

// wrap breaks words into lines of a width.
function wrap(c, words, width) {
	const lines = [];
	let line = "";
	for (const w of words.split(/\s+/)) {
		const longer = line ? line + " " + w : w;
		if (line && c.measureText(longer).width > width) {
			lines.push(line);
			line = w;
		} else line = longer;
	}
	return [...lines, line];
}

// draw makes the picture, in the proportions of this phone's screen; null when the words do not fit.
export function draw(parts) {
	const tall = Math.max(screen.width, screen.height) / Math.min(screen.width, screen.height);
	const canvas = document.createElement("canvas");
	canvas.width = 1080;
	canvas.height = Math.round(1080 * tall);
	const c = canvas.getContext("2d"), edge = canvas.width / 16;
	for (let size = canvas.width * largest; size >= canvas.width * smallest; size *= 0.95) {
		c.font = `700 ${size}px "Atkinson Hyperlegible Next", sans-serif`;
		const lines = parts.flatMap((p, i) => [...(i ? [""] : []), ...wrap(c, p, canvas.width - 2 * edge)]);
		const height = lines.reduce((n, l) => n + size * (l ? 1.2 : 0.5), 0);
		if (height > canvas.height * (1 - top - bottom)) continue;
		c.fillStyle = "#000000";
		c.fillRect(0, 0, canvas.width, canvas.height);
		c.fillStyle = "#ffffff";
		let y = canvas.height * top;
		for (const l of lines) {
			y += size * (l ? 1.2 : 0.5);
			if (l) c.fillText(l, edge, y - size * 0.3);
		}
		return canvas;
	}
	return null;
}

// words gives what goes into the picture, from the page that is shown.
export function words() {
	const at = new Date().toLocaleString([], { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });
	return ["RESCUE CARD of " + at + ". Where the party is: Icehand, Help.", ...[...document.querySelectorAll("[data-card]")].map((p) => p.textContent.trim().replace(/\s+/g, " "))];
}

// picture gives the card to the phone: its downloads, or on an iPhone the sheet that saves pictures.
async function picture() {
	await document.fonts.load('700 40px "Atkinson Hyperlegible Next"');
	const canvas = draw(words());
	if (!canvas) throw new Error("The words are too many for one screen.");
	const blob = await new Promise((done) => canvas.toBlob(done, "image/png"));
	const file = new File([blob], "icehand-rescue-" + new Date().toISOString().slice(0, 10) + ".png", { type: "image/png" });
	if ("standalone" in navigator && navigator.canShare?.({ files: [file] })) return navigator.share({ files: [file] });
	const to = document.createElement("a");
	to.href = URL.createObjectURL(file);
	to.download = file.name;
	to.click();
	setTimeout(() => URL.revokeObjectURL(to.href), 60000);
}

// wake wires the key of the page Help.
export function wake(trouble) {
	document.querySelector("[data-picture]").onclick = () => picture().then(() => trouble("Saved. Set it as the lock screen's picture in the phone's settings, and make it anew for another lake."),
		(e) => trouble("The picture could not be made. " + e.message));
}
