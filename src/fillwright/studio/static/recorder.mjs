// Hands every block of what the microphone hears to the page, with the moment at which it began.

class Recorder extends AudioWorkletProcessor {
  process([input]) {
    if (input[0]) this.port.postMessage({ time: currentTime, samples: input[0].slice() });
    return true;
  }
}

registerProcessor("recorder", Recorder);
