// Nobody is signed in here: of what this device kept, that which the server has too is dropped. What never arrived stays under
// the id of its writer, whose next page sends it; no page of somebody else looks there.

import { kept, names } from "./kept.js";

export function leave() {
  for (const name of names("chart:")) {
    const held = kept(name).read();
    if (!held || held.text === held.sent) kept(name).drop();
  }
}
