"use strict";

// The way from one view to the next, after van Wijk & Nuij (2003); the same as film/camera.py.
function between(a, b, share) {
  share = Math.min(Math.max(share, 0), 1);
  const eased = share * share * (3 - 2 * share);
  const round = 2 * Math.PI;
  const turn = ((((b.turn - a.turn + Math.PI) % round) + round) % round) - Math.PI;
  const distance = Math.hypot(b.x - a.x, b.y - a.y);
  const [over, half] = path(2 * a.half, 2 * b.half, distance, eased);
  return { x: a.x + (b.x - a.x) * over, y: a.y + (b.y - a.y) * over, half: half / 2, turn: a.turn + turn * eased };
}

function path(from, to, distance, share) {
  if (distance < 1e-6 * Math.min(from, to)) return [share, from * Math.exp(share * Math.log(to / from))];
  const squared = 1.3 * 1.3;
  const rise = to * to - from * from, tail = squared * squared * distance * distance;
  const first = Math.asinh(-(rise + tail) / (2 * from * squared * distance));
  const last = Math.asinh(-(rise - tail) / (2 * to * squared * distance));
  const at = share * (last - first);
  const over = (from * (Math.cosh(first) * Math.tanh(at + first) - Math.sinh(first))) / (squared * distance);
  return [over, (from * Math.cosh(first)) / Math.cosh(at + first)];
}
