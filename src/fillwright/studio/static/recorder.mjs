// Sends every block that the microphone records to the page, with the moment at which it began.

class Recorder extends AudioWorkletProcessor {
  /** @param {Float32Array[][]} inputs */
  process([input]) {
    if (input[0]) this.port.postMessage({ time: currentTime, samples: input[0].slice() });
    return true;
  }
}

registerProcessor("recorder", Recorder);
