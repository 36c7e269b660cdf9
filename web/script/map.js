// Draws the lake map on the page: outline, contours, holes by outcome, odds as a picture with lines, hazards, the line of
// this morning, own place. Everything comes from this machine, in metres on the lake's plane.

import {
	Circle, CircleStyle, Feature, Fill, GeoJSON, ImageLayer, ImageStatic, Map, Point, Projection, RegularShape,
	LineString, ScaleLine, Stroke, Style, Text, VectorLayer, VectorSource, View,
} from "../vendor/ol-10.10.0.js";
import { ask, picture } from "./host.js";

let map = null;
let layers = null;
let here = null;
let next = null;
let touched = null;
let walking = null; // the place that Walk to leads to
let last = null; // the last hole but the one here
let turned = false; // the course is up, not north
let armed = false; // the next press of New hole saves
let clock = 0;

const plane = new Projection({ code: "lake", units: "m", metersPerUnit: 1 });
const read = new GeoJSON({ dataProjection: plane, featureProjection: plane });

// ink gives a colour of the theme.
function ink(name) {
	return getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();
}

async function data(path) {
	const r = await ask(path, { signal: AbortSignal.timeout(15000) });
	if (!r.ok) throw new Error(await r.text());
	return r.json();
}

function text(words, more) {
	return new Text({
		text: words, font: '700 16.5px "Atkinson Hyperlegible Next", sans-serif', fill: new Fill({ color: ink("ink") }),
		stroke: new Stroke({ color: ink("paper"), width: 4 }), ...more,
	});
}

// hatch makes a pattern of slanted lines, so that a hazard is seen without its colour.
function hatch() {
	const c = document.createElement("canvas");
	c.width = c.height = 12;
	const g = c.getContext("2d");
	g.strokeStyle = ink("ink");
	g.lineWidth = 2;
	for (const x of [-12, 0, 12]) {
		g.beginPath();
		g.moveTo(x, 12);
		g.lineTo(x + 12, 0);
		g.stroke();
	}
	return g.createPattern(c, "repeat");
}

function shoreStyle(f) {
	if (f.get("sort") === "shore") return new Style({ stroke: new Stroke({ color: ink("ink"), width: 3 }) });
	return null;
}

function depthStyle(f, resolution) {
	const bold = f.get("bold");
	if (!bold && resolution > 14) return null;
	return new Style({
		stroke: new Stroke({ color: ink("soft"), width: bold ? 1.4 : 0.8 }),
		text: bold ? text(f.get("text"), { placement: "line", font: '400 15px "Atkinson Hyperlegible Next", sans-serif', repeat: 500 }) : undefined,
	});
}

function oddsStyle(f) {
	return new Style({
		stroke: new Stroke({ color: ink("ink"), width: 2, lineDash: [7, 5] }),
		text: text(f.get("text"), { placement: "line", repeat: 400, stroke: new Stroke({ color: ink("paper"), width: 7 }) }),
	});
}

// formStyle draws the forms of the bottom: humps and basins ringed, edges heavy, their foot dashed, each named where there is room.
function formStyle(f, resolution) {
	const sort = f.get("sort");
	if (f.getGeometry().getType() === "Point") {
		if (resolution > 40 || Math.sqrt(f.get("size")) * 100 < 12 * resolution) return null;
		return new Style({ text: text(f.get("text"), {}), zIndex: 3 });
	}
	const look = { hump: [3], basin: [3, [10, 4]], edge: [2], transition: [1.2, [2, 5]] }[sort];
	return new Style({ stroke: new Stroke({ color: ink("ink"), width: look[0], lineDash: look[1] }), zIndex: sort === "transition" ? 0 : 1 });
}

// holeStyle draws a ring for nothing, dots for marks, a filled ring for kept fish; today's bold, older ones thin.
function holeStyle(f, resolution) {
	const today = f.get("today"), state = f.get("state");
	if (!today && resolution > 9) return null;
	const width = today ? 3 : 1, radius = today ? 8 : 3.2;
	const styles = [new Style({
		image: new CircleStyle({
			radius, stroke: new Stroke({ color: ink("ink"), width }),
			fill: state === "kept" ? new Fill({ color: ink("ink") }) : today ? new Fill({ color: ink("paper") }) : undefined,
		}),
		zIndex: today ? 5 : 3,
	})];
	if (state === "few" || state === "many") {
		const dot = (x) => new Style({
			image: new CircleStyle({ radius: today ? 2.4 : 1.2, fill: new Fill({ color: ink("ink") }), displacement: [x, 0] }),
			zIndex: today ? 6 : 4,
		});
		styles.push(...(state === "few" ? [dot(0)] : [dot(today ? -3.4 : -1.3), dot(today ? 3.4 : 1.3)]));
	}
	return styles;
}

// nameStyle writes the step, its alternatives, sit clocks and the numbers of today's holes where there is room.
function nameStyle(f, resolution) {
	if (f.get("sort") === "next") return new Style({ text: text("next: " + f.get("text"), { offsetY: 27 }), zIndex: 9 });
	if (f.get("sort") === "other") return new Style({ text: text(f.get("text"), { offsetY: 21 }), zIndex: 2 });
	if (f.get("sort") === "clock") return resolution > 1.6 ? null : new Style({ text: text(f.get("text"), { offsetY: 22 }), zIndex: 1 });
	if (f.get("sort") !== "hole" || !f.get("today") || resolution > 6) return null;
	return new Style({ text: text(f.get("text"), { offsetY: -20 }) });
}

function hazardStyle(f, resolution) {
	const inForce = f.get("force"), radius = f.get("radius");
	const edge = new Stroke({ color: ink("ink"), width: inForce ? 3 : 1.2, lineDash: inForce ? undefined : [3, 5] });
	const label = text(f.get("text"), { overflow: true, offsetY: 4 });
	const g = f.getGeometry();
	switch (g.getType()) {
		case "Point":
			return new Style({ geometry: new Circle(g.getCoordinates(), Math.max(radius, 9 * resolution)), stroke: edge, fill: inForce ? new Fill({ color: hatch() }) : undefined, text: label, zIndex: 2 });
		case "LineString": {
			const wide = Math.min(60, Math.max(9, 2 * radius / resolution));
			const out = [new Style({ stroke: edge, text: text(f.get("text"), { placement: "line", overflow: true, textBaseline: "bottom", offsetY: -6 }), zIndex: 2 })];
			if (inForce) out.unshift(new Style({ stroke: new Stroke({ color: hatch(), width: wide, lineCap: "butt" }), zIndex: 1 }));
			return out;
		}
	}
	return new Style({ stroke: edge, fill: inForce ? new Fill({ color: hatch() }) : undefined, text: label, zIndex: 2 });
}

// iceStyle writes what was read at a hole, with the ring within which that speaks: dashed holes speak no more.
function iceStyle(f, resolution) {
	const radius = f.get("radius");
	return new Style({
		geometry: new Circle(f.getGeometry().getCoordinates(), Math.max(radius, 3 * resolution)),
		stroke: new Stroke({ color: ink("ink"), width: radius ? 2 : 1.2, lineDash: radius ? undefined : [3, 4] }),
		fill: f.get("bad") ? new Fill({ color: hatch() }) : undefined,
		text: resolution > 6 ? undefined : text(f.get("text"), { overflow: true, offsetY: radius ? 0 : -14 }),
		zIndex: radius ? 2 : 1,
	});
}

function dayStyle(f, resolution) {
	switch (f.get("sort")) {
		case "hole": return holeStyle(f, resolution);
		case "hazard": return hazardStyle(f, resolution);
		case "way": return new Style({ stroke: new Stroke({ color: ink("ink"), width: 4.5 }), zIndex: 1 });
		case "other": return new Style({
			image: new RegularShape({ points: 4, radius: 9, angle: 0, stroke: new Stroke({ color: ink("ink"), width: 2.5 }), fill: new Fill({ color: ink("paper") }) }), zIndex: 7,
		});
		case "next": return new Style({
			image: new RegularShape({ points: 4, radius: 14, angle: 0, stroke: new Stroke({ color: ink("ink"), width: 3.5 }), fill: new Fill({ color: ink("paper") }) }), zIndex: 8,
		});
	}
	return null;
}

function hereStyle(f) {
	if (f.getGeometry().getType() === "Circle") return new Style({ stroke: new Stroke({ color: ink("ink"), width: 1.5, lineDash: [4, 4] }), zIndex: 9 });
	const words = f.get("text");
	return [
		new Style({ image: new CircleStyle({ radius: 10, fill: new Fill({ color: ink("paper") }), stroke: new Stroke({ color: ink("ink"), width: 3 }) }), zIndex: 9 }),
		new Style({ image: new CircleStyle({ radius: 5, fill: new Fill({ color: ink("ink") }) }), zIndex: 10 }),
		...(words ? [new Style({ text: text(words, { offsetX: 18, textAlign: "left" }), zIndex: 10 })] : []),
	];
}

const walkStyle = () => new Style({ stroke: new Stroke({ color: ink("ink"), width: 4, lineDash: [14, 8] }), zIndex: 10 });

const touchStyle = () => new Style({
	image: new RegularShape({ points: 4, radius: 13, radius2: 0, angle: 0, stroke: new Stroke({ color: ink("ink"), width: 3 }) }), zIndex: 11,
});

function vector(style, zIndex, declutter) {
	return new VectorLayer({ source: new VectorSource(), style, zIndex, declutter });
}

// show draws the map into its box, once a visit.
export async function show(box) {
	if (map && map.getTargetElement() === box) {
		arm(false);
		for (const b of document.querySelectorAll("[data-map]")) b.onclick = () => press(b.dataset.map);
		document.getElementById("map-north").onclick = turn;
		needle();
		return today(false);
	}
	close();
	turned = false;
	layers = {
		odds: new ImageLayer({ zIndex: 0 }),
		depth: vector(depthStyle, 1, true),
		lines: vector(oddsStyle, 2, true),
		above: new ImageLayer({ zIndex: 0 }),
		spread: new ImageLayer({ zIndex: 0 }),
		doubt: vector(oddsStyle, 2, true),
		bottom: vector(formStyle, 2, true),
		shore: vector(shoreStyle, 3),
		day: vector(dayStyle, 4),
		ice: vector(iceStyle, 4, true),
		names: vector(nameStyle, 5, true),
		here: vector(hereStyle, 6),
		walk: vector(walkStyle, 7),
		touch: vector(touchStyle, 8),
	};
	map = new Map({
		target: box, layers: Object.values(layers),
		controls: [new ScaleLine({ units: document.body.dataset.units === "us" ? "us" : "metric", minWidth: 70 })],
		view: new View({ projection: plane, center: [0, 0], resolution: 2.6, minResolution: 0.25, maxResolution: 60 }),
	});
	map.on("singleclick", (e) => touch(e.coordinate));
	for (const b of document.querySelectorAll("[data-map]")) b.onclick = () => press(b.dataset.map);
	document.getElementById("map-north").onclick = turn;
	map.getView().on("change:rotation", needle);
	const [lake] = await Promise.all([data("/map/lake.json"), today(true), odds()]);
	for (const f of read.readFeatures(lake)) layers[f.get("sort") === "shore" ? "shore" : "depth"].getSource().addFeature(f);
	for (const l of [layers.ice, layers.above, layers.spread, layers.doubt, layers.bottom]) l.setVisible(false);
	map.once("rendercomplete", () => { box.dataset.drawn = "yes"; });
	map.render();
	clock = setInterval(() => { if (!document.hidden) Promise.all([today(false), odds()]).catch(() => note("The map has not been brought up to date.")); }, 60000);
}

async function today(first) {
	const d = await data("/map/today.json");
	if (!map) return;
	const fs = read.readFeatures(d);
	const s = layers.day.getSource();
	s.clear();
	s.addFeatures(fs);
	layers.names.getSource().clear();
	layers.names.getSource().addFeatures(fs.filter((f) => f.get("today") || ["next", "clock", "other"].includes(f.get("sort"))));
	next = fs.find((f) => f.get("sort") === "next")?.getGeometry().getCoordinates() ?? null;
	here = d.here ? d.here.at : null;
	last = d.last;
	const hs = layers.here.getSource();
	hs.clear();
	if (d.here) {
		if (d.here.accuracy > 0) hs.addFeature(new Feature(new Circle(d.here.at, d.here.accuracy)));
		hs.addFeature(new Feature({ geometry: new Point(d.here.at), text: d.here.text }));
	}
	if (first && d.centre) map.getView().setCenter(d.centre);
}

async function ice() {
	const d = await data("/map/ice.json");
	if (!map) return;
	const s = layers.ice.getSource();
	s.clear();
	s.addFeatures(read.readFeatures(d));
	note(d.text);
}

async function odds() {
	const d = await data("/map/odds.json");
	if (!map) return;
	const url = await picture("/map/odds.png?" + Date.now());
	if (!map) return;
	layers.odds.setSource(new ImageStatic({ url, imageExtent: d.extent, projection: plane, interpolate: true }));
	const s = layers.lines.getSource();
	s.clear();
	s.addFeatures(read.readFeatures(d));
	const legend = document.querySelector("#map-legend span");
	if (legend) legend.textContent = d.text;
}

// field puts a picture and lines that were asked for on their layers.
async function field(path, image, lines) {
	const d = await data(path + ".json");
	if (!map) return;
	const url = image && await picture(path + ".png?" + Date.now());
	if (!map) return;
	if (image) image.setSource(new ImageStatic({ url, imageExtent: d.extent, projection: plane, interpolate: true }));
	if (lines) {
		lines.getSource().clear();
		lines.getSource().addFeatures(read.readFeatures(d));
	}
	note(d.text);
}

const spread = () => field("/map/spread", layers.spread, layers.doubt);
const bottom = () => field("/map/bottom", null, layers.bottom);
const above = () => field("/map/above", layers.above, null);

function note(words) {
	const n = document.getElementById("map-note");
	if (n) n.textContent = words;
}

async function touch(at) {
	arm(false);
	touched = at.map((x) => Math.round(x * 10));
	const s = layers.touch.getSource();
	s.clear();
	s.addFeature(new Feature(new Point(at)));
	aim();
	const box = document.getElementById("map-place");
	try {
		const r = await ask(`/map/place?e=${touched[0]}&n=${touched[1]}`, { signal: AbortSignal.timeout(10000) });
		const page = new DOMParser().parseFromString(await r.text(), "text/html");
		box.replaceChildren(...(page.querySelector(".fault") ?? page.body).childNodes);
		box.hidden = false;
	} catch {
		note("Nothing is known of that place just now.");
	}
}

// aim tells the hazard keys where the hazard is: where the map was touched, else here.
function aim() {
	for (const i of document.querySelectorAll(".touched-e")) i.value = touched ? touched[0] : "";
	for (const i of document.querySelectorAll(".touched-n")) i.value = touched ? touched[1] : "";
	const where = document.getElementById("map-hazard-where");
	if (where) where.textContent = touched ? "at the place touched" : "here";
}

// arm makes the key of a new hole save at its next press, or makes it harmless again.
function arm(on) {
	armed = on;
	const key = document.querySelector("[data-map=hole]");
	if (!key) return;
	key.classList.toggle("armed", on);
	key.querySelector("span").textContent = on ? "Save it" : "New hole";
}

// walk draws the straight way to a place.
function walk(to) {
	walking = to;
	const s = layers.walk.getSource();
	s.clear();
	if (here && to) s.addFeature(new Feature(new LineString([here, to])));
	if (turned) map.getView().setRotation(-(heading() ?? 0) * Math.PI / 180);
}

// heading gives the course in degrees: to the place walked to, else as the party came from its last hole.
function heading() {
	for (const [from, to] of [[here, walking], [last, here]]) { // a way of a step or two has no course
		if (from && to && Math.hypot(to[0] - from[0], to[1] - from[1]) >= 5) return Math.atan2(to[0] - from[0], to[1] - from[1]) * 180 / Math.PI;
	}
	return null;
}

// turn puts north up, or the course.
function turn() {
	const course = heading();
	if (!turned && course === null) {
		note("No course yet: press Walk to, or touch a place first.");
		return;
	}
	turned = !turned;
	map.getView().setRotation(turned ? -course * Math.PI / 180 : 0);
	note(turned ? "Heading up." : "North up.");
}

function needle() {
	document.querySelector("#map-north path")?.setAttribute("transform", `rotate(${map.getView().getRotation() * 180 / Math.PI} 20 20)`);
}

const narrow = () => matchMedia("(max-width: 899px)").matches;

let full = 0;

function press(what) {
	const view = map.getView();
	if (what !== "hole") arm(false);
	const place = document.getElementById("map-place"), hazards = document.getElementById("map-hazards");
	switch (what) {
		case "hole": {
			hazards.hidden = true;
			const form = document.querySelector("form[action='/hole']");
			if (armed) {
				arm(false);
				form.requestSubmit();
				break;
			}
			if (!touched && here) view.animate({ center: here, resolution: Math.min(view.getResolution(), 4), duration: 0 });
			note(touched ? "New hole at the place touched?" : here ? "New hole here?" : "New hole where the phone is?");
			aim();
			arm(true);
			break;
		}
		case "walk": {
			const to = touched ? touched.map((x) => x / 10) : next;
			if (!to) {
				note("Touch the place to walk to.");
				break;
			}
			hazards.hidden = true;
			touch(to).then(() => walk(to));
			break;
		}
		case "hazard":
			place.hidden = narrow();
			hazards.hidden = !hazards.hidden;
			aim();
			break;
		case "layers": {
			full = (full + 1) % (document.getElementById("chart").dataset.above ? 7 : 6);
			layers.odds.setVisible(full === 0 || full === 2);
			layers.lines.setVisible(full === 0 || full === 2);
			layers.depth.setVisible(full < 2 || full === 5);
			layers.ice.setVisible(full === 3);
			layers.names.setVisible(full < 3);
			layers.spread.setVisible(full === 4);
			layers.doubt.setVisible(full === 4);
			layers.bottom.setVisible(full === 5);
			layers.above.setVisible(full === 6);
			for (const e of document.querySelectorAll("#map-legend > span")) e.hidden = !layers.odds.getVisible(); // the credits stay
			note(["Odds and depth.", "Depth only.", "Odds only.", "", "", "", "Asking for the picture ..."][full]);
			const ask = [null, null, null, ice, spread, bottom, above][full];
			if (ask) ask().catch(() => note(full === 6 ? "The picture has not come. The map works without." : "That layer has not come."));
			break;
		}
	}
}

function close() {
	clearInterval(clock);
	map?.setTarget(null);
	map = here = next = touched = walking = last = null;
	armed = turned = false;
	full = 0;
}

window.addEventListener("page:leave", (e) => { if (!e.detail.same) close(); });

