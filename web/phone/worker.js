// Runs the program of the pages in this worker. The page asks {n, ask} and is told {n, answer}; {up} once, and {down}
// when the program has ended, after which the page starts another worker. {ping} is answered as soon as nothing runs: the
// program comes up for air while it works something out, and a worker that is stuck does not.

importScripts("wasm_exec.js");

const host = new Promise((ready) => { self.icehandReady = ready; });
const go = new Go();

WebAssembly.instantiateStreaming(fetch("icehand.wasm"), go.importObject).then(
	(r) => go.run(r.instance).then(() => postMessage({ down: "The program has ended." })),
	(e) => postMessage({ down: "The program could not be started. " + e.message }),
);

host.then(() => postMessage({ up: true }));

onmessage = async (e) => {
	if (e.data.ping) return postMessage({ pong: e.data.ping });
	const answer = await (await host)(e.data.ask);
	postMessage({ n: e.data.n, answer });
};
