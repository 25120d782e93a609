// Peel mechanics of a strip that does not stretch (Kendall 1975), and places on its two drawings.
// The same as defectlog/laminate/peel.py and peel_drawing.py; one table of points tests both.

const LEFT = 46, RIGHT = 330, TOP = 14, BOTTOM = 212; // the curve's field
const SMALLEST_DEG = 30, LARGEST_DEG = 180, MOST = 4;
const FRONT_X = 180, SURFACE_Y = 150, FOLD_RADIUS = 9, ARM = 112, LONGEST_LIFT = 80;

/** Pull and lift in N. Energy in J/m², width in mm, angle in degrees from the bared surface. */
export function peelLoad(energy, widthMm, angleDeg) {
  if (!(angleDeg > 0 && angleDeg <= 180)) throw new RangeError("angle above 0 and up to 180°");
  const turn = (angleDeg * Math.PI) / 180;
  const pull = (energy * (widthMm / 1000)) / (1 - Math.cos(turn));
  // The sine of 180° is not quite 0 in binary.
  return { pull, lift: angleDeg === 180 ? 0 : pull * Math.sin(turn) };
}

/** Where on the curve's drawing; what is too large for it lies on its upper edge. */
export function place(angleDeg, multiple) {
  const x = LEFT + ((angleDeg - SMALLEST_DEG) / (LARGEST_DEG - SMALLEST_DEG)) * (RIGHT - LEFT);
  return [x, BOTTOM - (Math.min(multiple, MOST) / MOST) * (BOTTOM - TOP)];
}

/** The section at one angle: end of the bend, end of the arm, tip of the lift arrow. */
export function arm(angleDeg) {
  const turn = (angleDeg * Math.PI) / 180;
  const bend = [
    FRONT_X + FOLD_RADIUS * Math.sin(turn),
    SURFACE_Y - FOLD_RADIUS * (1 - Math.cos(turn)),
  ];
  const end = [bend[0] + ARM * Math.cos(turn), bend[1] - ARM * Math.sin(turn)];
  const { lift } = peelLoad(1000, 1, angleDeg);
  const liftY = SURFACE_Y - Math.min(lift / MOST, 1) * LONGEST_LIFT;
  const to = ([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`;
  const path = `M${to([FRONT_X, SURFACE_Y])}A${FOLD_RADIUS} ${FOLD_RADIUS} 0 0 0 ${to(bend)}L${to(end)}`;
  return { bend, end, liftY, path };
}

/** A number with two significant digits and no exponent, as the page writes it. */
export function figure(value) {
  return String(Number(value.toPrecision(2)));
}
