// The three verdicts as marks: told apart by shape, then by colour.

import type { Verdict } from "../api/client";

const SIZE_PX = 36; // drawn at twice the size shown, for sharp screens
export const MARK_PIXEL_RATIO = 2;

type Draw = (c: CanvasRenderingContext2D) => void;

const disc: Draw = (c) => c.arc(18, 18, 9, 0, 2 * Math.PI);
const diamond: Draw = (c) => {
  c.moveTo(18, 6);
  c.lineTo(30, 18);
  c.lineTo(18, 30);
  c.lineTo(6, 18);
  c.closePath();
};
const cross: Draw = (c) => {
  const points = [[9, 5], [18, 14], [27, 5], [31, 9], [22, 18], [31, 27], [27, 31], [18, 22], [9, 31], [5, 27], [14, 18], [5, 9]] as const;
  points.forEach(([x, y], i) => (i === 0 ? c.moveTo(x, y) : c.lineTo(x, y)));
  c.closePath();
};
const ring: Draw = (c) => c.arc(18, 18, 8, 0, 2 * Math.PI);

export type MarkName = Verdict | "unstudied";

const MARKS: Record<MarkName, { draw: Draw; colour: string }> = {
  served: { draw: disc, colour: "#1477c4" },
  doubtful: { draw: diamond, colour: "#e69f00" },
  unserved: { draw: cross, colour: "#d55e00" },
  unstudied: { draw: ring, colour: "#6b7472" },
};

/** Draws a mark with a pale rim, so that it stands out on any ground. */
export function mark(name: MarkName): ImageData {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = SIZE_PX;
  const context = canvas.getContext("2d")!;
  const { draw, colour } = MARKS[name];
  context.beginPath();
  draw(context);
  context.lineJoin = "round";
  context.lineWidth = 4;
  context.strokeStyle = "#fffdf8";
  context.stroke();
  if (name === "unstudied") {
    context.lineWidth = 3;
    context.strokeStyle = colour;
    context.stroke();
  } else {
    context.fillStyle = colour;
    context.fill();
    context.lineWidth = 1.5;
    context.strokeStyle = "#1c2526";
    context.stroke();
  }
  return context.getImageData(0, 0, SIZE_PX, SIZE_PX);
}

export const MARK_NAMES = Object.keys(MARKS) as MarkName[];
