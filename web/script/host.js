// Where pages come from: the server, or, in the app on the phone, the program that runs in this page's own worker.

export const phone = "phone" in document.documentElement.dataset;
export const base = phone ? "/phone" : ""; // the app lives under it; paths within pages are without it

export const engine = phone ? import("../phone/engine.js") : null;

// ask gets what a path answers. The answer has what a Response has, and path, where it stands after redirects.
export async function ask(path, options = {}) {
	if (phone) return (await engine).ask(path, options);
	const r = await fetch(path, options);
	const to = new URL(r.url);
	r.path = to.pathname + to.search;
	return r;
}

// picture gives the address of a picture that a path answers.
export async function picture(path) {
	if (!phone) return path;
	const r = await ask(path);
	if (!r.ok) throw new Error(await r.text());
	return URL.createObjectURL(await r.blob());
}

// here gives the path that the address bar shows.
export function here() {
	const path = location.pathname.startsWith(base + "/") ? location.pathname.slice(base.length) : location.pathname;
	return path + location.search + location.hash;
}

// pathOf gives the path that a link or a form leads to.
export function pathOf(address) {
	const u = new URL(address, location.origin);
	const path = base && u.pathname.startsWith(base + "/") ? u.pathname.slice(base.length) : u.pathname;
	return path + u.search + u.hash;
}
