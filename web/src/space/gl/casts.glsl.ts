/**
 * How a cast is drawn: stone in soft light, the gap left along closure in bands with their patterns, lines where it passes a
 * limit. All that the slider changes is one number: the gap left is (turn - closed) * radius.
 */
export const VERTEX = /* glsl */ `
  attribute vec4 shape;   // normal, and height over the surroundings
  attribute float turn;
  attribute float radius;
  attribute float state;
  uniform float closed;
  varying vec3 vNormal;
  varying float vRelief;
  varying float vLeft;
  varying float vKnown;
  varying float vHole;
  varying vec2 vPlan;
  varying vec3 vView;

  void main() {
    vec4 at = modelViewMatrix * vec4(position, 1.0);
    vView = -at.xyz;
    vNormal = normalMatrix * shape.xyz;
    vRelief = shape.w;
    vLeft = (turn - closed) * radius;
    vKnown = state > 0.5 && state < 1.5 ? 1.0 : 0.0;
    vHole = state > 1.5 ? 1.0 : 0.0;
    vPlan = vec2(-position.z, position.x);
    gl_Position = projectionMatrix * at;
  }
`;

export const FRAGMENT = /* glsl */ `
  uniform int bands;
  uniform float upto[5];
  uniform vec3 colour[6];
  uniform vec3 ink[6];
  uniform int pattern[6];
  uniform float pitch[6];
  uniform float stroke[6];
  uniform vec3 stone;
  uniform vec3 lineInk;
  uniform bool showBands;
  uniform bool grey;
  uniform float linePixels;
  varying vec3 vNormal;
  varying float vRelief;
  varying float vLeft;
  varying float vKnown;
  varying float vHole;
  varying vec2 vPlan;
  varying vec3 vView;

  const int SOLID = 0, CROSS = 1, LINES = 2, DOTS = 3, SPARSE = 4;

  // How much ink a row of strokes puts here; fades to its mean where strokes are finer than the screen.
  float strokes(float along, float pitch, float stroke) {
    float wide = max(fwidth(along), 1e-5);
    float off = abs(mod(along, pitch) - 0.5 * pitch);
    float sharp = smoothstep(0.5 * stroke + 0.6 * wide, 0.5 * stroke - 0.6 * wide, off);
    return mix(sharp, stroke / pitch, smoothstep(0.25, 0.5, wide / pitch));
  }

  float dots(vec2 at, float pitch, float stroke) {
    float wide = max(length(fwidth(at)) * 0.7, 1e-5);
    float off = length(mod(at, pitch) - 0.5 * pitch);
    float sharp = smoothstep(0.5 * stroke + 0.6 * wide, 0.5 * stroke - 0.6 * wide, off);
    return mix(sharp, 0.785 * stroke * stroke / (pitch * pitch), smoothstep(0.25, 0.5, wide / pitch));
  }

  float inked(int kind, float pitch, float stroke) {
    vec2 at = vec2(vPlan.x + vPlan.y, vPlan.x - vPlan.y) * 0.70710678;
    if (kind == CROSS) return max(strokes(at.x, pitch, stroke), strokes(at.y, pitch, stroke));
    if (kind == LINES) return strokes(at.x, pitch, stroke);
    if (kind == DOTS || kind == SPARSE) return dots(at, pitch, stroke);
    return 0.0;
  }

  void main() {
    vec3 n = normalize(vNormal) * (gl_FrontFacing ? 1.0 : -1.0);
    vec3 eye = normalize(vView);
    float key = max(dot(n, normalize(vec3(-0.5, 0.62, 0.6))), 0.0);
    float fill = max(dot(n, normalize(vec3(0.8, -0.15, 0.5))), 0.0);
    float sky = 0.5 + 0.5 * n.y;
    float facing = abs(dot(n, eye));
    float rim = mix(0.74, 1.0, smoothstep(0.0, 0.4, facing));
    float light = (0.27 + 0.09 * sky + 0.15 * facing + 0.46 * key + 0.10 * fill) * rim;
    // Fissures darker, ridges lighter, so that crowns are read from any side.
    light *= 1.0 + (vRelief < 0.0 ? 0.42 * max(vRelief, -1.0) : 0.10 * min(vRelief, 1.0));
    light = clamp(light, 0.0, 1.0);
    if (!gl_FrontFacing) light *= 0.7;

    // Stone: warm in the shade, its own colour in the light.
    vec3 base = mix(stone * vec3(0.36, 0.335, 0.31), stone * 0.99, smoothstep(0.10, 1.02, light));
    vec3 shown = base;
    // Bands keep their lightness, so that they stay apart in grey: only a little of the light gets through.
    float dim = mix(0.80, 1.0, clamp(light, 0.0, 1.0));
    float step1 = max(fwidth(vLeft), 1e-6);
    if (showBands && vKnown > 0.999) {
      int band = -1;
      for (int i = 4; i >= 0; i--) if (i < bands && vLeft <= upto[i]) band = i;
      for (int i = 0; i < 5; i++) {
        if (i != band) continue;
        shown = mix(colour[i], ink[i], inked(pattern[i], pitch[i], stroke[i])) * dim;
      }
      float line = 0.0;
      for (int i = 0; i < 5; i++) {
        if (i >= bands) break;
        line = max(line, 1.0 - smoothstep(0.5, 1.3, abs(vLeft - upto[i]) / (step1 * linePixels)));
      }
      // Beyond the last band a steep wall draws lines closer than the screen shows them: they fade.
      shown = mix(shown, band <= 0 ? mix(lineInk, vec3(1.0), 0.55) : lineInk, line * 0.82 * smoothstep(0.6, 0.2, step1));
    }
    if (vHole > 0.5) {
      shown = mix(colour[5], ink[5], inked(pattern[5], pitch[5], stroke[5])) * dim;
    }
    if (grey) shown = vec3(dot(shown, vec3(0.2126, 0.7152, 0.0722)));
    gl_FragColor = vec4(shown, 1.0);
  }
`;
