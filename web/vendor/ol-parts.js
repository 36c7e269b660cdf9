// The parts of OpenLayers that the map page uses, as one module.
export { default as Map } from 'ol/Map.js';
export { default as View } from 'ol/View.js';
export { default as Feature } from 'ol/Feature.js';
export { default as ImageLayer } from 'ol/layer/Image.js';
export { default as VectorLayer } from 'ol/layer/Vector.js';
export { default as ImageStatic } from 'ol/source/ImageStatic.js';
export { default as VectorSource } from 'ol/source/Vector.js';
export { default as GeoJSON } from 'ol/format/GeoJSON.js';
export { default as Projection } from 'ol/proj/Projection.js';
export { default as Point } from 'ol/geom/Point.js';
export { default as Circle } from 'ol/geom/Circle.js';
export { default as LineString } from 'ol/geom/LineString.js';
export { default as ScaleLine } from 'ol/control/ScaleLine.js';
export { default as Rotate } from 'ol/control/Rotate.js';
export { Style, Fill, Stroke, Text, Circle as CircleStyle, RegularShape } from 'ol/style.js';
