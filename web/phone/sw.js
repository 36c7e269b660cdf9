// Keeps the app's files for days without signal: one version whole, and no other until the guide asks for it. The server
// puts two constants before this file: version, and files, the list of what belongs to it.

const shell = "/phone/files/" + version + "/phone/shell.html";
const notes = "icehand-notes";
let current = null; // the version in use; null: not read yet

const cacheOf = (v) => caches.open("icehand-files-" + v);

async function pinned() {
	if (!current) current = await (await (await caches.open(notes)).match("/phone/pinned"))?.text() ?? null;
	return current;
}

async function pin(v) {
	await (await caches.open(notes)).put("/phone/pinned", new Response(v));
	current = v;
}

self.addEventListener("install", (e) => e.waitUntil((async () => {
	await (await cacheOf(version)).addAll(files); // all of them or none
	if (!await pinned()) await pin(version);
})()));

self.addEventListener("activate", (e) => e.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (e) => {
	const u = new URL(e.request.url);
	if (e.request.method !== "GET" || u.origin !== location.origin || !u.pathname.startsWith("/phone/")) return;
	if (e.request.mode === "navigate" || files.includes(u.pathname) || u.pathname.startsWith("/phone/files/")) e.respondWith(kept(e.request, u));
});

async function kept(request, u) {
	const v = await pinned() ?? version;
	const c = await cacheOf(v);
	if (request.mode === "navigate") return await c.match(shell.replace(version, v)) ?? fetch(request);
	return await c.match(u.pathname) ?? fetch(request);
}

// The guide has asked for the new version: it is used from now on, and the old one goes.
self.addEventListener("message", (e) => {
	if (e.data === "version") e.waitUntil(pinned().then((v) => e.ports[0].postMessage({ kept: v, offered: version })));
	if (e.data !== "update") return;
	e.waitUntil((async () => {
		await pin(version);
		for (const name of await caches.keys()) if (name.startsWith("icehand-files-") && name !== "icehand-files-" + version) await caches.delete(name);
		await self.skipWaiting();
		e.ports[0].postMessage("updated");
	})());
});
