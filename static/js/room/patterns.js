// Each family of kinds has a line pattern, so that colour is never the only sign.

const PATTERNS = [
  "solid", "long-dash", "dotted", "dash-dot", "short-dash", "dash-dot-dot", "nearly-solid", "sparse",
];

/** The pattern of a family; the same for every photo, as long as the guide has the same families. */
export function patternsOf(kinds) {
  const families = [...new Set(kinds.map(({ family }) => family))].sort();
  return (family) => PATTERNS[Math.max(0, families.indexOf(family)) % PATTERNS.length];
}
