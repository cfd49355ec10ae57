// The desk of everything that plays parts: a gain for each, its place from left to right, a little room, and a limiter at the end.
const PLACES = { bass: 0, piano: -0.28, shells: -0.28, drums: 0.2, line: 0.1, click: 0 };
const SENT = { bass: 0.03, piano: 0.14, shells: 0.14, drums: 0.12, line: 0.14, click: 0 };
const ROOM = 0.5; // seconds
const rooms = new WeakMap();

// Half a second of noise that dies away, another on each side; the same every time.
function roomOf(context) {
  if (rooms.has(context)) return rooms.get(context);
  const count = Math.floor(ROOM * context.sampleRate);
  const buffer = context.createBuffer(2, count, context.sampleRate);
  let state = 2463534242;
  for (let side = 0; side < 2; side += 1) {
    const data = buffer.getChannelData(side);
    let dark = 0;
    for (let i = 0; i < count; i += 1) {
      state = (1664525 * state + 1013904223) >>> 0;
      const white = state / 2147483648 - 1;
      dark += (white - dark) * (0.25 + 0.5 * Math.exp((-9 * i) / count)); // darker as it goes on
      data[i] = i < 0.008 * context.sampleRate ? 0 : dark * 10 ** ((-3 * i) / count);
    }
  }
  rooms.set(context, buffer);
  return buffer;
}

// Gains by the name of each part, between 0 and 1; `volume` is what to disconnect in order to fall silent.
export function openDesk(context, parts) {
  const limiter = context.createDynamicsCompressor();
  Object.entries({ threshold: -8, knee: 4, ratio: 16, attack: 0.002, release: 0.12 }).forEach(([name, value]) => {
    limiter[name].value = value;
  });
  const volume = context.createGain();
  volume.gain.value = 0.72;
  limiter.connect(volume).connect(context.destination);
  const room = context.createConvolver();
  room.buffer = roomOf(context);
  room.connect(limiter);
  const gains = {};
  for (const part of parts) {
    gains[part] = context.createGain();
    const place = context.createStereoPanner();
    place.pan.value = PLACES[part] ?? 0;
    gains[part].connect(place).connect(limiter);
    if (!SENT[part]) continue;
    const send = context.createGain();
    send.gain.value = SENT[part];
    place.connect(send).connect(room);
  }
  return { gains, volume };
}
