/** Labels: flat pieces of one picture that face the screen, of one size on it, a little in front of what they name. */
export const VERTEX = /* glsl */ `
  attribute vec3 point;
  attribute vec4 piece;    // left, top, right, bottom in the picture of all texts
  attribute vec2 size;     // on the screen, pixels
  attribute vec4 way;      // moves with the lower, group, shown, in front (mm)
  uniform mat4 moved;      // the lower, from where the record holds it
  uniform vec2 screen;
  uniform vec4 groups;
  varying vec2 vAt;

  void main() {
    vec4 there = way.x > 0.5 ? moved * vec4(point, 1.0) : vec4(point, 1.0);
    vec4 at = modelViewMatrix * there;
    at.xyz *= max(1.0 - way.w / length(at.xyz), 0.1);
    gl_Position = projectionMatrix * at;
    int group = int(way.y + 0.5);
    float shown = way.z * (group == 0 ? groups.x : group == 1 ? groups.y : group == 2 ? groups.z : groups.w);
    vec2 corner = position.xy;
    gl_Position.xy += corner * size / screen * 2.0 * gl_Position.w;
    if (shown < 0.5) gl_Position = vec4(2.0, 2.0, 2.0, 1.0);
    vAt = vec2(mix(piece.x, piece.z, corner.x + 0.5), mix(piece.w, piece.y, corner.y + 0.5));
  }
`;

export const FRAGMENT = /* glsl */ `
  uniform sampler2D texts;
  varying vec2 vAt;

  void main() {
    vec4 shown = texture2D(texts, vAt);
    if (shown.a < 0.02) discard;
    gl_FragColor = shown;
  }
`;
