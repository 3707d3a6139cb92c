// What the scripts are checked for; the type checker looks after names and types.

import js from "@eslint/js";

const BROWSER = ["addEventListener", "atob", "AudioContext", "AudioWorkletNode", "AudioWorkletProcessor", "cancelAnimationFrame",
  "clearInterval", "console", "CSS", "currentTime", "CustomEvent", "DataTransfer", "document", "Element", "Event", "fetch", "File",
  "FormData", "history", "localStorage", "location", "matchMedia", "navigator", "OfflineAudioContext", "performance", "print",
  "registerProcessor", "requestAnimationFrame", "setInterval", "setTimeout", "TextDecoder", "URL", "URLSearchParams"];

export default [
  { ignores: ["src/fillwright/pack/practice/bundle.mjs"] },
  js.configs.recommended,
  {
    languageOptions: {
      ecmaVersion: 2022,
      sourceType: "module",
      globals: Object.fromEntries(BROWSER.map((name) => [name, "readonly"])),
    },
    rules: {
      "max-lines": ["error", 300],
      "max-lines-per-function": ["error", { max: 60 }],
      "complexity": ["error", 12],
      "eqeqeq": "error",
      "no-var": "error",
      "prefer-const": "error",
      "no-shadow": "error",
      "no-throw-literal": "error",
      "default-param-last": "error",
    },
  },
];
