// The sound of the engine, made in the browser from what the engine tells: when cylinders fire and how strongly, when a
// charge pings, whether the starter turns. Off until it is asked for; all of it stands in words beside the switch, too.

/**
 * @typedef {object} Sound
 * @property {number} firing_hz
 * @property {number[]} beats
 * @property {boolean} cranking
 * @property {number[]} pings
 * @property {number} span_s
 *
 * @typedef {{ at: number, cylinder: number }} Next
 */

const AHEAD_S = 0.25; // planned so far ahead of what is heard
const PLANNED_EVERY_MS = 60;
const LOUDEST_BEAT = 0.5;
const LOUDEST_PING = 0.35;
const STARTER_LOUDNESS = 0.06;
const NOISE_SEED = 20481;
const STALE_AFTER_MS = 800; // an engine that nothing is heard of for so long is not made up
const FASTEST_HZ = 400; // an eight at 6,000 rpm

// The firings between `from` and `until` [s] at `firingHz`: [{at, cylinder, strength}], and where the next one stands.
// `next` is {at, cylinder} as returned by the call before; `beats` holds one strength a cylinder, 0 (dead) to about 1.2.
/**
 * @param {number} from
 * @param {number} until
 * @param {number} firingHz
 * @param {number[]} beats
 * @param {Next} next
 */
export function firingsBetween(from, until, firingHz, beats, next) {
  /** @type {(Next & { strength: number })[]} */
  const due = [];
  if (!(firingHz > 0) || !beats.length) return { due, next: { at: until, cylinder: next.cylinder } };
  const gap = 1 / Math.min(firingHz, FASTEST_HZ);
  // A page that slept, or an engine that has sped up, goes on from now instead of catching up.
  let at = next.at < from || next.at > from + 2 * gap + AHEAD_S ? from : next.at;
  let cylinder = next.cylinder % beats.length;
  for (; at < until; at += gap) {
    due.push({ at, cylinder, strength: Math.min(Math.max(beats[cylinder], 0), 1.2) });
    cylinder = (cylinder + 1) % beats.length;
  }
  return { due, next: { at, cylinder } };
}

// The pings of one message, spread evenly over the time `span` [s] that the message stands for.
/**
 * @param {number[]} pings
 * @param {number} from
 * @param {number} span
 */
export function pingTimes(pings, from, span) {
  return pings.map((loudness, index) => ({
    at: from + (span * (index + 0.5)) / pings.length,
    loudness: Math.min(Math.max(loudness, 0), 1),
  }));
}

// Seeded noise from -1 to 1, so that the same engine sounds the same each time (a linear congruential generator).
/** @param {number} length */
export function noise(length, seed = NOISE_SEED) {
  let state = seed >>> 0;
  return Float32Array.from({ length }, () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2147483648 - 1;
  });
}

// One firing as heard at the tailpipe: a low push and a breath of noise, both dying away.
/** @param {number} rate */
export function beatShape(rate) {
  const rough = noise(Math.round(rate * 0.09));
  let smooth = 0;
  return rough.map((value, index) => {
    const t = index / rate;
    smooth += 0.12 * (value - smooth);
    return (
      (0.8 * Math.sin(2 * Math.PI * 62 * t) + 0.9 * smooth) * Math.exp(-t / 0.022) * Math.min(t / 0.002, 1)
    );
  });
}

// One ping: the charge rings in the cylinder at some kilohertz and dies away within milliseconds.
/** @param {number} rate */
export function pingShape(rate) {
  return Float32Array.from({ length: Math.round(rate * 0.03) }, (_, index) => {
    const t = index / rate;
    return (Math.sin(2 * Math.PI * 6400 * t) + 0.4 * Math.sin(2 * Math.PI * 3100 * t)) * Math.exp(-t / 0.006);
  });
}

export class EngineSound {
  constructor() {
    /** @type {Player | null} */
    this.player = null;
    /** @type {Sound} */
    this.heard = { firing_hz: 0, beats: [], cranking: false, pings: [], span_s: 0 };
    this.heardAt = -Infinity;
    this.planned = 0;
    /** @type {Next} */
    this.next = { at: 0, cylinder: 0 };
    /** @type {ReturnType<typeof setInterval> | undefined} */
    this.timer = undefined;
  }

  get on() {
    return this.player !== null;
  }

  // Begin to sound; false where this browser has no sound to give. To be called from a press of the learner's.
  start() {
    const Context = globalThis.AudioContext;
    if (!Context) return false;
    const player = (this.player = new Player(new Context()));
    this.next = { at: 0, cylinder: 0 };
    this.planned = player.context.currentTime;
    this.timer = setInterval(() => this.plan(player), PLANNED_EVERY_MS);
    return true;
  }

  stop() {
    clearInterval(this.timer);
    this.player?.context.close();
    this.player = null;
  }

  // What the engine does now: {firing_hz, beats, cranking, pings, span_s}.
  /** @param {Sound} sound */
  hear(sound) {
    this.heard = sound;
    this.heardAt = performance.now();
    const player = this.player;
    if (!player) return;
    const now = player.context.currentTime;
    for (const { at, loudness } of pingTimes(sound.pings, now, sound.span_s))
      player.play(player.ping, at, LOUDEST_PING * loudness);
    player.starter.gain.setTargetAtTime(sound.cranking ? STARTER_LOUDNESS : 0, now, 0.03);
  }

  /** @param {Player} player */
  plan(player) {
    const { firing_hz: firingHz, beats, cranking } = this.heard;
    const now = player.context.currentTime;
    const from = Math.max(this.planned, now);
    const until = now + AHEAD_S;
    const stale = performance.now() - this.heardAt > STALE_AFTER_MS;
    if (stale) player.starter.gain.setTargetAtTime(0, now, 0.03);
    const { due, next } = firingsBetween(from, until, stale ? 0 : firingHz, beats, this.next);
    this.next = next;
    this.planned = until;
    for (const { at, strength } of due) {
      player.play(player.beat, at, LOUDEST_BEAT * (cranking ? 0.25 : strength));
      if (cranking) player.labour(at, 1 / firingHz);
    }
  }
}

// What sounds in the browser while the sound is on: firings, pings, and the motor of the starter.
class Player {
  /** @param {AudioContext} context */
  constructor(context) {
    this.context = context;
    this.out = new DynamicsCompressorNode(context);
    this.out.connect(context.destination);
    this.beat = buffered(context, beatShape(context.sampleRate));
    this.ping = buffered(context, pingShape(context.sampleRate));
    this.starter = new GainNode(context, { gain: 0 });
    this.motor = new OscillatorNode(context, { type: "sawtooth", frequency: 190 });
    this.motor.connect(this.starter).connect(this.out);
    this.motor.start();
  }

  // The starter slows as each cylinder comes to its compression.
  /**
   * @param {number} at
   * @param {number} gap
   */
  labour(at, gap) {
    this.motor.frequency.setTargetAtTime(150, at, gap / 6);
    this.motor.frequency.setTargetAtTime(200, at + gap / 2, gap / 6);
  }

  /**
   * @param {AudioBuffer} buffer
   * @param {number} at
   * @param {number} loudness
   */
  play(buffer, at, loudness) {
    if (loudness <= 0.001) return;
    const source = new AudioBufferSourceNode(this.context, { buffer });
    source.connect(new GainNode(this.context, { gain: loudness })).connect(this.out);
    source.start(at);
  }
}

/**
 * @param {AudioContext} context
 * @param {Float32Array<ArrayBuffer>} samples
 */
function buffered(context, samples) {
  const buffer = new AudioBuffer({ length: samples.length, sampleRate: context.sampleRate });
  buffer.copyToChannel(samples, 0);
  return buffer;
}
