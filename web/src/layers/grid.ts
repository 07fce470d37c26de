// A coverage grid as a picture, and the value under the pointer.

import type { Grid, Quantity } from "../api/client";

const EARTH_RADIUS_M = 6378137; // of the Web Mercator projection, EPSG:3857

/** Northing in Web Mercator, in radians of the projection. */
function mercator(lat_deg: number): number {
  return Math.log(Math.tan(Math.PI / 4 + (lat_deg * Math.PI) / 360));
}

/** Index of the class that a value belongs to; -1 for none. */
export function classOf(quantity: Quantity, value: number): number {
  if (Number.isNaN(value)) return -1;
  return quantity.classes.findIndex(({ from, to }) => (from == null || value >= from) && (to == null || value < to));
}

/** Value at a place; null outside or where there is none. */
export function valueAt({ head, values }: Grid, lon_deg: number, lat_deg: number): number | null {
  const { west_deg, east_deg, south_deg, north_deg } = head.bounds;
  const top = mercator(north_deg);
  const column = Math.floor(((lon_deg - west_deg) / (east_deg - west_deg)) * head.width);
  const row = Math.floor(((top - mercator(lat_deg)) / (top - mercator(south_deg))) * head.height);
  if (column < 0 || row < 0 || column >= head.width || row >= head.height) return null;
  const value = values[row * head.width + column];
  return value === undefined || Number.isNaN(value) ? null : value;
}

type Rgba = number; // little-endian, as a canvas keeps it

function rgba(colour: string): Rgba {
  const value = Number.parseInt(colour.slice(1), 16);
  return ((255 << 24) | ((value & 255) << 16) | (value & 0xff00) | (value >>> 16)) >>> 0;
}

/** Paints a grid by its classes; what belongs to none stays clear. */
export function paint({ head, values }: Grid, canvas: HTMLCanvasElement): void {
  if (canvas.width !== head.width || canvas.height !== head.height) {
    canvas.width = head.width;
    canvas.height = head.height;
  }
  const context = canvas.getContext("2d");
  if (!context) return;
  const image = context.createImageData(head.width, head.height);
  const pixels = new Uint32Array(image.data.buffer);
  const { classes } = head.quantity;
  const colours = classes.map((c) => rgba(c.colour));
  const from = classes.map((c) => c.from ?? -Infinity);
  const to = classes.map((c) => c.to ?? Infinity);
  let last = 0; // neighbours mostly belong to the same class
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (Number.isNaN(value)) continue;
    if (!(value >= from[last]! && value < to[last]!)) {
      const found = from.findIndex((least, c) => value >= least && value < to[c]!);
      if (found < 0) continue;
      last = found;
    }
    pixels[i] = colours[last]!;
  }
  context.putImageData(image, 0, 0);
}

/** Corners in the order that the map asks for, from the north-west clockwise. */
export function corners({ head }: Grid): [[number, number], [number, number], [number, number], [number, number]] {
  const { west_deg: w, east_deg: e, south_deg: s, north_deg: n } = head.bounds;
  return [[w, n], [e, n], [e, s], [w, s]];
}

/** A place at a distance and azimuth from another; good to a few metres over a sector's reach. */
export function placeAt(from: { lon_deg: number; lat_deg: number }, azimuth_deg: number, distance_m: number): [number, number] {
  const azimuth_rad = (azimuth_deg * Math.PI) / 180;
  const north_deg = ((distance_m * Math.cos(azimuth_rad)) / EARTH_RADIUS_M) * (180 / Math.PI);
  const east_deg =
    ((distance_m * Math.sin(azimuth_rad)) / (EARTH_RADIUS_M * Math.cos((from.lat_deg * Math.PI) / 180))) * (180 / Math.PI);
  return [from.lon_deg + east_deg, from.lat_deg + north_deg];
}

/** Distance to a place nearby, on a sphere. */
export function distance_m(from: { lon_deg: number; lat_deg: number }, to: { lon_deg: number; lat_deg: number }): number {
  const rad = Math.PI / 180;
  const east = (to.lon_deg - from.lon_deg) * rad * Math.cos(((from.lat_deg + to.lat_deg) / 2) * rad);
  return EARTH_RADIUS_M * Math.hypot(east, (to.lat_deg - from.lat_deg) * rad);
}

/** Azimuth from one place to another nearby, clockwise from true north. */
export function azimuthTo(from: { lon_deg: number; lat_deg: number }, lon_deg: number, lat_deg: number): number {
  const east = (lon_deg - from.lon_deg) * Math.cos((from.lat_deg * Math.PI) / 180);
  return (Math.atan2(east, lat_deg - from.lat_deg) * 180) / Math.PI + (east < 0 ? 360 : 0);
}
