// Identities of acts.

// uuid7 makes the identity of one human act, so that sending it twice counts once.
export function uuid7() {
	const b = crypto.getRandomValues(new Uint8Array(16));
	const ms = Date.now();
	for (let i = 0; i < 6; i++) b[i] = Math.floor(ms / 2 ** (8 * (5 - i))) % 256;
	b[6] = (b[6] & 0x0f) | 0x70;
	b[8] = (b[8] & 0x3f) | 0x80;
	const hex = Array.from(b, (x) => x.toString(16).padStart(2, "0")).join("");
	return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}
