// Where a beat stands on an engraved bar: at its note. A logical identity; the spacing is that of the engraving.

import assert from "node:assert/strict";
import { along, knots } from "../../static/js/takes/along.js";

const near = (one, other) => assert.ok(Math.abs(one - other) < 1e-9, `${one} is not ${other}`);

Deno.test("a beat stands at its note, and between two in proportion", () => {
  const measure = { left: 0.2, width: 0.4, first: 0.3, heads: [0.3, 0.4, 0.5] };
  const pairs = knots(4, 4, [[4, 1], [5, 2], [7, 1]], measure);
  assert.deepEqual(pairs.map(([at]) => at), [0, 1, 3, 4]);
  near(along(pairs, 1), 0.4);
  near(along(pairs, 2), 0.45);
  near(along(pairs, 4), 0.6);
});

Deno.test("where heads and notes do not agree it runs from the first sign to the bar line", () => {
  const pairs = knots(0, 4, [[0, 1], [1, 1]], { left: 0, width: 0.5, first: 0.1, heads: [0.1] });
  near(along(pairs, 0), 0.1);
  near(along(pairs, 2), 0.3);
});
