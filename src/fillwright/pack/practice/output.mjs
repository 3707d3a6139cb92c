// Between the player and the loudspeaker: the moment that is heard, and a limit that nothing clips at.

const KNEE = 0.75; // share of full scale up to which sound passes unchanged; ours, not measured
const CURVE_SIZE = 8193; // points of the shaper's curve; odd, so that one of them is zero

/**
 * Return the moment that is heard now, on the context's clock: the loudspeaker plays later than the clock says.
 * @param {BaseAudioContext & Partial<AudioContext>} context
 */
export function heardTime(context) {
  const stamp = context.getOutputTimestamp?.();
  if (stamp?.contextTime && stamp.performanceTime && stamp.contextTime > 0 && stamp.performanceTime > 0) {
    const heard = stamp.contextTime + (performance.now() - stamp.performanceTime) / 1000;
    const behind = context.currentTime - heard;
    if (behind > -0.05 && behind < 1) return heard;
  }
  return context.currentTime - (context.outputLatency || context.baseLatency || 0);
}

/**
 * Connect a soft limit: straight up to three quarters of full scale, bent below it above. No delay, no pumping.
 * @param {BaseAudioContext} context
 * @param {AudioNode} output
 */
export function connectSoftLimit(context, output) {
  const curve = Float32Array.from({ length: CURVE_SIZE }, (_, i) => {
    const x = ((i / (CURVE_SIZE - 1)) * 2 - 1) * 2;
    const over = Math.max(0, Math.abs(x) - KNEE);
    return Math.sign(x) * (Math.min(Math.abs(x), KNEE) + (1 - KNEE) * Math.tanh(over / (1 - KNEE)));
  });
  const half = connectGain(context, 0.5);
  const shaper = context.createWaveShaper();
  shaper.curve = curve;
  half.connect(shaper).connect(output);
  return half;
}

/**
 * Return a gain at a level, connected to an output where there is one.
 * @param {BaseAudioContext} context
 * @param {number} level
 * @param {AudioNode} [output]
 */
export function connectGain(context, level, output) {
  const gain = context.createGain();
  gain.gain.value = level;
  if (output) gain.connect(output);
  return gain;
}
